"""How much likelier each setting is than Laplace's method takes it for.

Laplace's method takes the posterior for the normal law at its peak. Where few failures tell little it leans, and the
more so the more its groups are left to themselves, so settings with wide groups were held for too unlikely. About the
middle of the posterior, let r be by how much the log-likelihood of a condition's plain lives exceeds the quadratic form
that its normal law rests on. The integral of the posterior is that normal law's, times the mean of exp(sum of r): the
product of the means, as far as conditions are apart once the normal law is known. Means take five points along a
condition's m, the way it leans, and three across (Gauss and Hermite): as good as five by five. In 36 simulated shops
with 3 and 10 failures a group the log of the integral was mostly within 0.05 of importance sampling with 6,000 draws,
as far as these were sure of it; Laplace's method is short of it by 0.1 to 1.4 (own measurement).

References: L. Tierney & J. B. Kadane, Accurate approximations for posterior moments and marginal densities, J. Amer.
Statist. Assoc. 81 (1986) 82-86; M. Opper, U. Paquet & O. Winther, Perturbative corrections for approximate inference in
Gaussian latent variable models, J. Machine Learning Research 14 (2013) 2857-2898 (the first of their terms).
"""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from shopfloor.core.hierarchical.inference.variational_mean import Spread
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.survival.censored_data import FloatArray

(_FIVE, _OF_FIVE), (_THREE, _OF_THREE) = (np.polynomial.hermite_e.hermegauss(count) for count in (5, 3))
_X, _Y = (part.ravel() for part in np.meshgrid(_FIVE, _THREE, indexing="ij"))
_LOG_SHARE = np.log(np.outer(_OF_FIVE / _OF_FIVE.sum(), _OF_THREE / _OF_THREE.sum()).ravel())


def beyond_laplace(
    likelihood: ModeLikelihood, shared: Design, spread: Spread, effects: FloatArray, slope: FloatArray, own: FloatArray
) -> FloatArray:
    """log of the mean of exp(r) under the normal law of each setting, shape (k,).

    Parameters
    ----------
    spread, effects    the normal laws of the effects: how wide, and their means, shape (k, p)
    slope, own         the quadratic form of each condition's plain lives: slope by (b, m), shape (k, c, 2), and of
                       its curvature bb, bm, mm, shape (k, c, 3)
    """
    middle_b, middle_m = effects @ shared.shape.T, effects @ shared.scale.T
    beyond = []
    for place in range(slope.shape[1]):
        m = spread.sd_m[:, place, None] * _X
        b = spread.b_with_m[:, place, None] * _X + spread.sd_b[:, place, None] * _Y
        (by_b, by_m), (bb, bm, mm) = slope[:, place, :, None].swapaxes(0, 1), own[:, place, :, None].swapaxes(0, 1)
        told = by_b * b + by_m * m - 0.5 * (bb * b**2 + 2 * bm * b * m + mm * m**2)
        at_b, at_m = (
            middle[:, place, None] + np.hstack([away, np.zeros((len(away), 1))])
            for middle, away in ((middle_b, b), (middle_m, m))
        )
        frailty = np.repeat(spread.frailty, at_b.shape[1])
        found = likelihood.at_one(place, at_b.ravel(), at_m.ravel(), frailty).reshape(at_b.shape)
        beyond.append(found[:, :-1] - found[:, -1:] - told + _LOG_SHARE)
    return np.asarray(logsumexp(beyond, axis=-1).sum(axis=0))
