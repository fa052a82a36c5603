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

from shopfloor.core.hierarchical.inference.hessian import Curvature
from shopfloor.core.hierarchical.inference.newton import Place, climb
from shopfloor.core.hierarchical.model.design import Design
from shopfloor.core.hierarchical.model.frailty import Terms
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.survival.censored_data import FloatArray

MOST_MOVES = 8
NEAR_ENOUGH = 0.05
"""In logs: a last move below that leaves less to go than matters. Most logs need two or three."""

_ENDS, _SHARES = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)]), np.array([1.0, 4.0, 1.0]) / 6
_ALONG_B = _ENDS.reshape(-1, 1, 1)
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
        at = likelihood.plain_terms if plain_only else likelihood.terms
        mean_b, mean_m = effects @ shared.shape.T, effects @ shared.scale.T
        found = []
        # Three points at a time: with all nine the arrays of a large log would not stay near the processor.
        for x in _ENDS:
            b = mean_b + x * self.b_with_m + _ALONG_B * self.sd_b
            m = np.tile(mean_m + x * self.sd_m, (len(_ENDS), 1))
            found.append(at(b.reshape(m.shape), m, np.tile(self.frailty, len(_ENDS))))

        def average(values: list[FloatArray]) -> FloatArray:
            by_point = np.array(values).reshape(len(_SHARE), len(self.sd_m), *values[0].shape[1:])
            return np.asarray(np.tensordot(_SHARE, by_point, 1))

        across = [one.across for one in found if one.across is not None]
        return Terms(
            average([one.value for one in found]), average([one.by_b for one in found]),
            average([one.by_m for one in found]), average([one.bb for one in found]),
            average([one.bm for one in found]), average([one.mm for one in found]),
            average(across) if across else None,
        )  # fmt: skip


def centred(
    likelihood: ModeLikelihood, curvature: Curvature, spread: Spread, peak: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The middle of the posterior for each setting, and how the conditions' own lives pull there.

    Parameters
    ----------
    spread    of the effects, as at the peak
    peak      effects there, shape (k, p)

    Returns
    -------
    effects, slope    means, shape (k, p); averaged gradient by (b, m) of the plain lives, shape (k, c, 2)
    """
    middle = _moved(likelihood, curvature, spread, peak)
    own = middle.terms
    if likelihood.cells is not None:
        own = spread.averaged(likelihood, curvature.design, middle.effects, plain_only=True)
    return middle.effects, np.stack([own.by_b, own.by_m], axis=-1)


def _moved(likelihood: ModeLikelihood, curvature: Curvature, spread: Spread, peak: FloatArray) -> Place:
    """Where nothing pulls on the average."""

    def at(effects: FloatArray) -> Terms:
        return spread.averaged(likelihood, curvature.design, effects, plain_only=False)

    for place in islice(climb(at, curvature, peak), MOST_MOVES):
        if place.step < NEAR_ENOUGH:
            break
    return place
