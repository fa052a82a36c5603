"""The normal laws of a posterior moved from its peak to its middle, which lies elsewhere where few lives tell little.

The posterior of few failures leans: at its peak lives look shorter, and shapes steeper, than on the average over it.
Each normal law, its spread kept, is moved to where the gradient of the log posterior, averaged over the law, is 0: of
all places the one from which it is nearest to the posterior in the sense of Kullback and Leibler. Averages over a
condition's (b, m) take nine points (Gauss and Hermite).

References: J. van Niekerk & H. Rue, Low-rank variational Bayes correction to the Laplace method, J. Machine Learning
Research 25 (2024); M. Opper & C. Archambeau, The variational Gaussian approximation revisited, Neural Computation 21
(2009) 786-792.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

import numpy as np

from shopfloor.core.observations import BoolArray, FloatArray
from shopfloor.core.pool.climb import climb
from shopfloor.core.pool.curvature import Curvature
from shopfloor.core.pool.curves import Terms
from shopfloor.core.pool.design import Design
from shopfloor.core.pool.terms import ModeLikelihood

MOST_MOVES = 8
NEAR_ENOUGH = 0.05
"""In logs: a last move below that leaves less to go than matters. Most logs need two or three."""

_ENDS, _SHARES = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)]), np.array([1.0, 4.0, 1.0]) / 6
_ALONG_M, _ALONG_B = (axis.reshape(-1, 1, 1) for axis in np.meshgrid(_ENDS, _ENDS, indexing="ij"))
_SHARE = np.outer(_SHARES, _SHARES).ravel()


@dataclass(frozen=True, eq=False)
class Spread:
    """Normal laws of the effects about a middle, one for each of k settings, as (b, m) of c conditions see them.

    Attributes
    ----------
    frailty : (k,)
    sd_m, b_with_m, sd_b : (k, c)
        m = mean + sd_m x and b = mean + b_with_m x + sd_b y, with x and y independent standard normal
    """

    frailty: FloatArray
    sd_m: FloatArray
    b_with_m: FloatArray
    sd_b: FloatArray

    @classmethod
    def of(cls, shared: Design, frailty: FloatArray, root: FloatArray) -> Spread:
        """From roots R, shape (k, p, p), with R' R the covariance of the effects."""
        spread_b, spread_m = root @ shared.shape.T, root @ shared.scale.T
        sd_m = np.sqrt((spread_m**2).sum(axis=1))
        b_with_m = (spread_b * spread_m).sum(axis=1) / sd_m
        alone = (spread_b**2).sum(axis=1) - b_with_m**2
        return cls(frailty, sd_m, b_with_m, np.sqrt(np.maximum(alone, 0.0)))

    def averaged(self, likelihood: ModeLikelihood, shared: Design, effects: FloatArray, plain_only: bool) -> Terms:
        """The likelihood's terms averaged over the laws with these means."""
        m = effects @ shared.scale.T + _ALONG_M * self.sd_m
        b = effects @ shared.shape.T + _ALONG_M * self.b_with_m + _ALONG_B * self.sd_b
        k, c = self.sd_m.shape
        at = likelihood.plain_terms if plain_only else likelihood.terms
        found = at(b.reshape(-1, c), m.reshape(-1, c), np.tile(self.frailty, len(_SHARE)))

        def average(values: FloatArray) -> FloatArray:
            return np.asarray(np.tensordot(_SHARE, values.reshape(len(_SHARE), k, *values.shape[1:]), 1))

        return Terms(
            average(found.value), average(found.by_b), average(found.by_m),
            average(found.bb), average(found.bm), average(found.mm),
            None if found.across is None else average(found.across),
        )  # fmt: skip


def centred(
    likelihood: ModeLikelihood, curvature: Curvature, frailty: FloatArray, peak: FloatArray, root: FloatArray,
    which: BoolArray,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """The middle of the posterior for each setting, and how the conditions' own lives pull there.

    Parameters
    ----------
    peak, root    effects at the peak, shape (k, p), and R with R' R their covariance
    which         settings that count, shape (k,); the others stay at the peak, with slope 0

    Returns
    -------
    effects, slope    means, shape (k, p); averaged gradient by (b, m) of the plain lives, shape (k, c, 2)
    """
    these = curvature.of_settings(which)
    effects, slope = peak.copy(), np.zeros((len(peak), len(these.design.shape), 2))
    spread = Spread.of(these.design, frailty[which], root[which])
    likelihood = likelihood.of_settings(which, len(_SHARE))
    effects[which] = middle = _moved(likelihood, these, spread, peak[which])
    own = spread.averaged(likelihood, these.design, middle, plain_only=True)
    slope[which] = np.stack([own.by_b, own.by_m], axis=-1)
    return effects, slope


def _moved(likelihood: ModeLikelihood, curvature: Curvature, spread: Spread, peak: FloatArray) -> FloatArray:
    """The effects at which nothing pulls on the average."""

    def at(effects: FloatArray) -> Terms:
        return spread.averaged(likelihood, curvature.design, effects, plain_only=False)

    for place in islice(climb(at, curvature, peak), MOST_MOVES):
        if place.step < NEAR_ENOUGH:
            break
    return place.effects
