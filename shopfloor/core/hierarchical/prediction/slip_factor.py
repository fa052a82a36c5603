"""What a tap's recent cutting slips say of its coming holes: a factor on the hazard, and what it rests on.

Slips in a tap's recent holes are Poisson, their mean theta times what is usual there; theta differs from tap to tap as
Gamma(k, k), and the tap's hazard goes with theta^b. With s slips where e are usual theta is Gamma(k + s, k + e), and
    factor = E[theta^b given s and e] / E[theta^b]
           = Gamma(k+s+b) / Gamma(k+s) (k+e)^-b  /  (Gamma(k+b) / Gamma(k) k^-b).
It is 1 where nothing was seen, near 1 where few holes were, and 1 on the mean over taps: it moves risk from tap to tap
and leaves the level, which lives tell.

References: M. Greenwood & G. U. Yule, An inquiry into the nature of frequency distributions representative of multiple
happenings, J. Roy. Statist. Soc. 83 (1920) 255-279 (gamma-Poisson); R. Henderson, P. Diggle & A. Dobson, Joint
modelling of longitudinal measurements and event time data, Biostatistics 1 (2000) 465-480 (one's own factor in both).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.conditions import IntArray
from shopfloor.core.survival.censored_data import FloatArray

SPREAD = 2.0
"""k: taps of one kind and age differ in their slips by some 70 %. Common practice, no source."""

WINDOW = 3.0
"""Slips count in a tap's last holes in which so many are usual: fewer tell little, more are old news."""

MOST = 5.0
"""So many times the hazard at most, and as many times less: slips may be entered wrongly, and few logs tell more."""

SEEN = 1.25
"""A hazard times that is worth a word: odds are told no finer."""


@dataclass(frozen=True)
class SlipEvidence:
    """Cutting slips in a tap's last holes, how many are usual there, and by what the hazard is taken times."""

    holes: float
    slips: float
    usual: float
    factor: float

    @property
    def raises(self) -> bool:
        """Whether slips raise the risk so far that a person should be told."""
        return self.factor >= SEEN


NO_SLIPS = SlipEvidence(0.0, 0.0, 0.0, 1.0)
"""Nothing known of slips."""


def log_factor(slips: ArrayLike, usual: ArrayLike, strength: float) -> FloatArray:
    """Log of the factor on the hazard, between -log MOST and log MOST.

    Parameters
    ----------
    slips, usual : array_like    cutting slips, and how many are usual in as many holes, at least 0
    strength : float             b, at least 0; at 0 slips say nothing

    Raises
    ------
    InputError    a number below 0, or none
    """
    s, e, b = np.asarray(slips, float), np.asarray(usual, float), strength
    if not all(np.isfinite(one).all() and np.min(one, initial=0.0) >= 0 for one in (s, e, b)):
        raise InputError.of("slips", "a number is below 0, or none", "give numbers of slips, 0 or more")
    of_tap = _log_rise(SPREAD + s, b) - b * np.log(SPREAD + e)
    of_any = _log_rise(np.asarray(SPREAD), b) - b * np.log(SPREAD)
    return np.asarray(np.clip(of_tap - of_any, -np.log(MOST), np.log(MOST)))


def _log_rise(shape: FloatArray, b: float) -> FloatArray:
    """log Gamma(shape + b) - log Gamma(shape); of huge shapes b log shape: the difference would lose its digits."""
    return np.asarray(np.where(shape > 1e8, b * np.log(shape), gammaln(shape + b) - gammaln(shape)))


def recent(told: FloatArray, at: IntArray, first: IntArray) -> FloatArray:
    """Holes, slips and usual slips in the last holes before some runs; a run half in the window counts half.

    Parameters
    ----------
    told : (3, n)       holes, slips and usual slips of each run, life after life and in order; 0 where not told
    at : (m,)           before which of the runs, 0 to n
    first : (m,)        the first run of the same life

    Returns
    -------
    (3, m)
    """
    reached = np.concatenate([np.zeros((3, 1)), np.cumsum(told, axis=1)], axis=1)
    usual = reached[2]
    start = np.maximum(usual[at] - WINDOW, usual[first])
    since = np.array([np.interp(start, usual, one) for one in reached])
    # Where nothing is usual there is nothing to measure by; runs of one life share the place of its first.
    since = np.where(start <= usual[first], reached[:, first], since)
    return np.asarray(np.maximum(reached[:, at] - since, 0.0))
