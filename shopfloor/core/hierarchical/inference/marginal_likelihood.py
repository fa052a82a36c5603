"""Marginal likelihood of each hyperparameter setting, beyond Laplace's approximation.

Laplace's method replaces the posterior by a Gaussian at its maximum. With few failures the posterior is skewed, more so
the wider the groups may spread, so that settings with wide groups were underrated: by up to 1.4 in log marginal
likelihood with 3 failures a group. Let r be the excess of the log-likelihood of a condition's own lives over the
quadratic form of its Gaussian, about the variational mean. The integral of the posterior is that of the Gaussian times
the mean of exp(sum of r), approximated by the product over conditions. Means use five Gauss-Hermite points along a
condition's m, the direction of the skewness, and three across: as good as five by five. In 36 simulated shops with 3
and 10 failures a group the log of the integral was mostly within 0.05 of importance sampling with 6,000 draws, as far
as that was precise; Laplace's method falls short by 0.1 to 1.4 (own measurement). It takes about 4 ms for 12 groups, 9
to 13 where taps also wear.

References: L. Tierney & J. B. Kadane, Accurate approximations for posterior moments and marginal densities, J. Amer.
Statist. Assoc. 81 (1986) 82-86; M. Opper, U. Paquet & O. Winther, Perturbative corrections for approximate inference in
Gaussian latent variable models, J. Machine Learning Research 14 (2013) 2857-2898 (the first of their terms).
"""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from shopfloor.core.hierarchical.inference.variational_mean import GaussianSpread
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.own_lives import OwnLives
from shopfloor.core.survival.censored_data import FloatArray

(_FIVE, _OF_FIVE), (_THREE, _OF_THREE) = (np.polynomial.hermite_e.hermegauss(count) for count in (5, 3))
_X, _Y = (part.ravel() for part in np.meshgrid(_FIVE, _THREE, indexing="ij"))
_LOG_SHARE = np.log(np.outer(_OF_FIVE / _OF_FIVE.sum(), _OF_THREE / _OF_THREE.sum()).ravel())


def laplace_correction(
    own: OwnLives,
    shared: Design,
    spread: GaussianSpread,
    effects: FloatArray,
    own_gradient: FloatArray,
    own_precision: FloatArray,
) -> FloatArray:
    """Log of the mean of exp(r) under the Gaussian of each hyperparameter setting, shape (k,).

    Parameters
    ----------
    own                         the conditions' own lives
    shared                      the design
    spread                      of the Gaussians, by condition
    effects : (k, p)            their means
    own_gradient : (k, c, 2)    gradient by (b, m) of each condition's own lives there
    own_precision : (k, c, 3)   their negative Hessian: bb, bm, mm
    """
    mean_b, mean_m = effects @ shared.shape.T, effects @ shared.scale.T
    beyond = []
    for place in range(own_gradient.shape[1]):
        m = spread.sd_m[:, place, None] * _X
        b = spread.b_with_m[:, place, None] * _X + spread.sd_b[:, place, None] * _Y
        (by_b, by_m), (bb, bm, mm) = (
            own_gradient[:, place, :, None].swapaxes(0, 1),
            own_precision[:, place, :, None].swapaxes(0, 1),
        )
        quadratic = by_b * b + by_m * m - 0.5 * (bb * b**2 + 2 * bm * b * m + mm * m**2)
        at_b, at_m = (
            mean[:, place, None] + np.hstack([away, np.zeros((len(away), 1))])
            for mean, away in ((mean_b, b), (mean_m, m))
        )
        frailty = np.repeat(spread.frailty, at_b.shape[1])
        found = own.log_likelihood(place, at_b.ravel(), at_m.ravel(), frailty).reshape(at_b.shape)
        beyond.append(found[:, :-1] - found[:, -1:] - quadratic + _LOG_SHARE)
    return np.asarray(logsumexp(beyond, axis=-1).sum(axis=0))
