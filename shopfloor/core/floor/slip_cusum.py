"""Are a tap's cutting slips rising? A Poisson CUSUM for twice the usual rate, with a known rate of false alarms.

The usual rate is the larger of the peers' and the tap's own past; runs with the clutch at the bottom are left out on
both sides. The limit holds for a known rate and Poisson counts: few peers or clustered slips alarm more often.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import gammaln

from shopfloor.core.errors import InputError

RATIO = 2.0
"""The rise to detect: twice the usual slips per hole. Common practice, no source."""

FEWEST_BATCHES = 1000.0
"""Average number of batches between false alarms, at least, where the usual rate is known."""

LEAST_SLIPS = 5
"""Slips of peers needed to trust a usual rate. Common practice, no source."""

_OWN_LAG = 3
_LEAST_MEAN = 0.05
_STEPS = 8


@dataclass(frozen=True)
class Batch:
    """Holes of one run of a tap, and the cutting slips in them; slips at the bottom of the hole do not count."""

    holes: int
    slips: int


@dataclass(frozen=True)
class SlipWatch:
    """State of the test after the last batch.

    Attributes
    ----------
    score, limit    of the CUSUM
    slips, holes    since the score was last 0
    usual           slips that would be usual in those holes
    """

    score: float
    limit: float
    slips: int
    holes: int
    usual: float

    @property
    def alarms(self) -> bool:
        """Whether slips have risen beyond what chance explains."""
        return self.score >= self.limit


def reference(usual: float) -> float:
    """The count at which a batch speaks neither for the usual rate nor for RATIO times it.

    Parameters
    ----------
    usual : float    slips expected in the batch, above 0

    Returns
    -------
    float            (d - a) / (ln d - ln a) with a the usual and d the raised mean

    References
    ----------
    J. M. Lucas, Counted data CUSUM's, Technometrics 27 (1985) 129-144
    """
    return usual * (RATIO - 1) / math.log(RATIO)


def average_run_length(mean: float, k: int, h: int, unit: int, start: int = 0) -> float:
    """Average number of batches until a one-sided Poisson CUSUM alarms.

    Parameters
    ----------
    mean : float     slips expected in a batch
    k, h : int       reference value and decision interval in units of 1 / unit; the alarm is at h or above
    unit : int       steps of the sum in one slip
    start : int      where the sum begins, in the same units

    Returns
    -------
    float            by the Markov chain of the sum's values 0 to h - 1

    References
    ----------
    D. Brook, D. A. Evans, An approach to the probability distribution of CUSUM run length, Biometrika 59 (1972) 539-549
    """
    counts = np.arange((h + k) // unit + 1)
    chances = np.exp(counts * math.log(mean) - mean - gammaln(counts + 1))
    states = np.arange(h)
    moves = np.zeros((h, h))
    for count, chance in zip(counts, chances, strict=True):
        goal = np.maximum(states + count * unit - k, 0)
        stays = goal < h
        moves[states[stays], goal[stays]] += chance
    return float(np.linalg.solve(np.eye(h) - moves, np.ones(h))[start])


@lru_cache(maxsize=512)
def decision_limit(mean: float) -> float:
    """The decision interval at which false alarms are at least `FEWEST_BATCHES` batches apart.

    Parameters
    ----------
    mean : float    usual slips in a batch; values below 0.05 count as 0.05, which makes alarms rarer

    Returns
    -------
    float           the least interval on a grid of about an eighth of the reference value
    """
    mean = max(mean, _LEAST_MEAN)
    unit = 1 << max(0, math.ceil(math.log2(_STEPS / reference(mean))))
    # Rounding the reference value down gives more alarms than the one in use: the limit errs on the quiet side.
    k = math.floor(reference(mean) * unit)
    low, high = 0, max(k, 1)
    while average_run_length(mean, k, high, unit) < FEWEST_BATCHES:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if average_run_length(mean, k, middle, unit) < FEWEST_BATCHES:
            low = middle
        else:
            high = middle
    return high / unit


def watch(own: Sequence[Batch], peers: Batch) -> SlipWatch | None:
    """Whether a tap's slips rise against its peers and against its own past.

    Parameters
    ----------
    own : sequence of Batch    the tap's batches in these conditions, oldest first
    peers : Batch              all holes and slips of other taps in the same conditions

    Returns
    -------
    SlipWatch or None          None where the peers have too few slips to tell what is usual, or the tap has no batch

    Raises
    ------
    InputError                 a batch without holes

    Notes
    -----
    The usual rate is the larger of the peers' and that of the tap's own batches up to the third last, so that only a
    rise over both alarms. Clustered slips alarm more often than the Poisson distribution predicts.

    References
    ----------
    J. M. Lucas, Counted data CUSUM's, Technometrics 27 (1985) 129-144
    """
    if any(batch.holes < 1 for batch in own):
        raise InputError.of("holes", "a batch has none", "give 1 or more")
    if not own or peers.slips < LEAST_SLIPS:
        return None
    among_peers = peers.slips / peers.holes
    score, slips, holes, usual = 0.0, 0, 0, 0.0
    for number, batch in enumerate(own):
        expected = batch.holes * max(among_peers, _own_rate(own[: max(0, number - _OWN_LAG)], peers))
        score = max(0.0, score + batch.slips - reference(expected))
        if score == 0.0:
            slips, holes, usual = 0, 0, 0.0
        else:
            slips, holes, usual = slips + batch.slips, holes + batch.holes, usual + expected
    typical = among_peers * sum(batch.holes for batch in own) / len(own)
    return SlipWatch(score, decision_limit(_rounded_up(typical)), slips, holes, usual)


def _own_rate(past: Sequence[Batch], peers: Batch) -> float:
    """Slips per hole of the tap's past, shrunk towards its peers with `LEAST_SLIPS` pseudo-slips."""
    lean = LEAST_SLIPS * peers.holes / peers.slips
    slips, holes = sum(batch.slips for batch in past), sum(batch.holes for batch in past)
    return (LEAST_SLIPS + slips) / (lean + holes)


def _rounded_up(mean: float) -> float:
    """The next of ten steps in a decade, so that few limits have to be computed."""
    return math.pow(10, math.ceil(10 * math.log10(max(mean, _LEAST_MEAN))) / 10)
