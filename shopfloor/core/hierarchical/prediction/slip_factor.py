"""A hazard factor from a tap's recent cutting slips, with the counts it rests on.

Slips in a tap's recent holes are Poisson, with mean theta times the usual number; theta varies between taps as
Gamma(k, k), and the tap's hazard is proportional to theta^b. With s slips where e are usual, theta is
Gamma(k + s, k + e), and
    factor = E[theta^b given s and e] / E[theta^b]
           = Gamma(k+s+b) / Gamma(k+s) (k+e)^-b  /  (Gamma(k+b) / Gamma(k) k^-b).
It is 1 without observations, near 1 for few holes, and 1 on average over taps: it moves risk between taps and leaves
the overall level to the lives.

References: M. Greenwood & G. U. Yule, An inquiry into the nature of frequency distributions representative of multiple
happenings, J. Roy. Statist. Soc. 83 (1920) 255-279 (gamma-Poisson); R. Henderson, P. Diggle & A. Dobson, Joint
modelling of longitudinal measurements and event time data, Biostatistics 1 (2000) 465-480 (a shared random effect).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.conditions import IntArray
from shopfloor.core.survival.censored_data import FloatArray

GAMMA_SHAPE = 2.0
"""k: the slip rates of taps of one kind and age vary by some 70 %. Common practice, no source."""

WINDOW = 3.0
"""Slips count over a tap's last holes in which this many are usual: fewer tell little, more are out of date."""

LARGEST_FACTOR = 5.0
"""The factor lies between this and its reciprocal: slips may be entered wrongly, and few logs support more."""

WORTH_TELLING = 1.25
"""The factor from which a person is told: odds are stated no more finely."""


@dataclass(frozen=True)
class SlipEvidence:
    """Cutting slips in a tap's last holes.

    Attributes
    ----------
    holes     the last holes, within the window
    slips     cutting slips in them
    usual     how many are usual in them
    factor    on the tap's hazard
    """

    holes: float
    slips: float
    usual: float
    factor: float

    @property
    def raises(self) -> bool:
        """Whether slips raise the risk so far that a person should be told."""
        return self.factor >= WORTH_TELLING


NO_SLIPS = SlipEvidence(0.0, 0.0, 0.0, 1.0)
"""Nothing known of slips."""


def log_factor(slips: ArrayLike, usual: ArrayLike, strength: float) -> FloatArray:
    """Log of the factor on the hazard, between -log `LARGEST_FACTOR` and log `LARGEST_FACTOR`.

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
    of_tap = _log_rise(GAMMA_SHAPE + s, b) - b * np.log(GAMMA_SHAPE + e)
    of_any = _log_rise(np.asarray(GAMMA_SHAPE), b) - b * np.log(GAMMA_SHAPE)
    return np.asarray(np.clip(of_tap - of_any, -np.log(LARGEST_FACTOR), np.log(LARGEST_FACTOR)))


def _log_rise(shape: FloatArray, b: float) -> FloatArray:
    """log Gamma(shape + b) - log Gamma(shape); for huge shapes b log shape, as the difference would lose its digits."""
    return np.asarray(np.where(shape > 1e8, b * np.log(shape), gammaln(shape + b) - gammaln(shape)))


def recent(counts: FloatArray, at: IntArray, first: IntArray) -> FloatArray:
    """Holes, slips and usual slips in the last holes before some runs; a run half within the window counts half.

    Parameters
    ----------
    counts : (3, n)       holes, slips and usual slips of each run, life after life and in order; 0 where not recorded
    at : (m,)           index of the run before which to look, 0 to n
    first : (m,)        index of the first run of the same life

    Returns
    -------
    (3, m)
    """
    reached = np.concatenate([np.zeros((3, 1)), np.cumsum(counts, axis=1)], axis=1)
    usual = reached[2]
    start = np.maximum(usual[at] - WINDOW, usual[first])
    since = np.array([np.interp(start, usual, one) for one in reached])
    # Without usual slips there is nothing to compare with; runs of one life share the index of its first.
    since = np.where(start <= usual[first], reached[:, first], since)
    return np.asarray(np.maximum(reached[:, at] - since, 0.0))
