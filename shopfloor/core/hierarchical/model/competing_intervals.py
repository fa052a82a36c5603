"""Failures within inspection intervals in which several modes compete, with quadrature points inside.

Each integral over an interval is a sum over its points. A life over several conditions accumulates hazard along its
path through the interval.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from shopfloor.core.hierarchical.model.conditions import Histories, History, IntArray
from shopfloor.core.hierarchical.model.cumulative_exposure import by_width
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, cumulative_hazard
from shopfloor.core.survival.censored_data import FloatArray


@dataclass(frozen=True)
class QuadratureSizes:
    """Number of quadrature points per interval, by the ratio of its end to its start and by the hazard within it.

    Each table lists (limit, points): values below the limit take that many points, and all larger ones the last number.
    """

    by_end: tuple[tuple[float, int], ...]
    by_hazard: tuple[tuple[float, int], ...]

    def of(self, end_over_start: FloatArray, hazard: FloatArray) -> IntArray:
        """Points for intervals, shape (n,), by age at the end over age at the start and by the hazard in between."""
        return np.maximum(_looked_up(self.by_end, end_over_start), _looked_up(self.by_hazard, hazard))


def _looked_up(table: tuple[tuple[float, int], ...], value: FloatArray) -> IntArray:
    limits, counts = zip(*table, strict=True)
    return np.asarray(counts)[np.searchsorted(limits[:-1], value, side="right")]


MOST_POINTS = 24
"""Points for an interval within which nearly every tap fails."""

FINE = QuadratureSizes(
    ((1.1, 4), (1.25, 5), (1.5, 6), (2.01, 10), (np.inf, MOST_POINTS)),
    ((1.0, 4), (8.0, 12), (16.0, 16), (np.inf, MOST_POINTS)),
)
COARSE = QuadratureSizes(
    ((1.1, 2), (1.25, 3), (1.5, 4), (2.01, 6), (np.inf, 12)), ((1.0, 2), (4.0, 8), (16.0, 12), (np.inf, MOST_POINTS))
)
"""Coarser quadrature, enough where the result is averaged over many draws. Over 11,000 pairs of Weibull distributions
with scales of 40 to 900 holes and shapes of 0.9 to 6, on intervals of 25, 50 and 100 holes, the log of the integral was
off by at most 2e-7 in 99 of 100 cases (`FINE`) and by 2e-5 (`COARSE`); at distributions other than those that set the
number of points (0.4 away in log scale, 0.2 in log shape), by 5e-6 and 4e-4 (own measurement)."""

_Inside = tuple[IntArray, IntArray, FloatArray, FloatArray]
"""Points within intervals: index of the life, condition there, holes in each condition of the life, log weight."""


@dataclass(frozen=True, eq=False)
class ModeDistributions:
    """Weibull distributions of one mode for k hyperparameter settings.

    Attributes
    ----------
    log_shape, log_scale : (k, c)    of each of c conditions; scale in holes
    frailty : (k,)                   variance of the gamma frailty
    weight : (k,)                    posterior weight of each setting; they sum to 1
    """

    mode: str
    log_shape: FloatArray
    log_scale: FloatArray
    frailty: FloatArray
    weight: FloatArray

    @property
    def mean(self) -> ModeDistributions:
        """A single distribution per condition, the weighted mean in logs, without frailty."""
        log_shape, log_scale = (self.weight @ part[None] for part in (self.log_shape, self.log_scale))
        return ModeDistributions(self.mode, log_shape, log_scale, np.zeros(1), np.ones(1))


@dataclass(frozen=True, eq=False)
class Ages:
    """Ages of n lives, as the holes made in each condition.

    Attributes
    ----------
    holes : (n, d)    holes made in each of d conditions
    among : (n, d)    these conditions, the last one used first
    now : (n,)        the condition in use at that age
    """

    holes: FloatArray
    among: IntArray
    now: IntArray

    def used(self, distributions: ModeDistributions) -> FloatArray:
        """Life used up, in characteristic lives, for each setting: (k, n)."""
        return np.asarray((self.holes * np.exp(-distributions.log_scale)[:, self.among]).sum(axis=2))

    def under(self, distributions: ModeDistributions) -> tuple[FloatArray, FloatArray]:
        """Cumulative hazard A and the log of the hazard (both with frailty) for each setting: (k, n) each."""
        last, frailty = self.among[:, 0], distributions.frailty[:, None]
        used = self.used(distributions)
        shape = np.exp(distributions.log_shape)[:, last]
        w = shape * np.log(np.maximum(used, 1e-290))
        value = cumulative_hazard(np.exp(np.clip(w, -600.0, MOST_LOG_HAZARD)), frailty)
        rate = distributions.log_shape[:, last] + (1 - 1 / shape) * w - distributions.log_scale[:, self.now]
        return value, rate - frailty * value


class CompetingIntervals:
    """Failures of known modes within intervals, with quadrature points inside.

    Attributes
    ----------
    row, mode, count : (n,)     index of the life, mode of failure, number of lives it stands for
    start, end : Ages of (n,)
    inside : Ages of (p,)       quadrature points, ordered by life
    life : (p,)                 index of the life that a point belongs to
    firsts, many : (n,)         index of a life's first point, and how many points it has
    """

    def __init__(self, histories: Histories, row: IntArray, start: Ages, end: Ages, inside: _Inside) -> None:
        """From the lives and the quadrature.

        Parameters
        ----------
        histories     all lives
        row : (n,)    indices of those that failed within an interval
        start, end    their ages at the ends of the interval
        inside        quadrature points within the intervals
        """
        self.row, self.start, self.end = row, start, end
        self.mode, self.count = histories.lives.mode[row], histories.lives.count[row]
        life, now, holes, log_weight = inside
        order = np.argsort(life, kind="stable")
        self.life, self._log_weight = life[order], log_weight[order]
        self.inside = Ages(holes[order], start.among[self.life], now[order])
        self.firsts = np.searchsorted(self.life, np.arange(len(row)))
        self.many = np.diff(self.firsts, append=len(self.life))

    @property
    def is_plain(self) -> bool:
        """Whether each of the lives was used under one condition only."""
        return len(self.start.among[0]) == 1

    def log_competing(self, mode: str, competing: Sequence[ModeDistributions]) -> FloatArray:
        """Log of what the competing modes contribute at each point, including its quadrature weight, shape (p,).

        That is their survival or, where one of them caused the failure, the normalised density of that failure.

        Parameters
        ----------
        mode         the mode whose likelihood is wanted
        competing    distributions of the other modes
        """
        total = self._log_weight
        for distributions in competing:
            at_start, _ = self.start.under(distributions)
            value, log_rate = self.inside.under(distributions)
            log_part = (self.mode == distributions.mode)[self.life] * log_rate - (value - at_start[:, self.life])
            largest = log_part.max(axis=0)
            total = total + largest + np.log(np.maximum(distributions.weight @ np.exp(log_part - largest), 1e-290))
        whole, _ = self.summed(total[None])
        return np.asarray(total - np.where(self.mode == mode, 0.0, whole[0])[self.life])

    def summed(self, log_part: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Log of the sum over the points of each life, (k, n), and each point's share of it, (k, p)."""
        largest = np.maximum.reduceat(log_part, self.firsts, axis=1)
        part = np.exp(log_part - largest[:, self.life])
        whole = np.add.reduceat(part, self.firsts, axis=1)
        return largest + np.log(whole), part / whole[:, self.life]

    def over_points(self, values: FloatArray, axis: int) -> FloatArray:
        """Sums over the points of each life."""
        return np.asarray(np.add.reduceat(values, self.firsts, axis=axis))


def failed_within(histories: Histories, modes: Sequence[str]) -> NDArray[np.bool_]:
    """Mask of the lives that failed by one of these modes within an interval (rather than at a known hole)."""
    lives = histories.lives
    return np.asarray(lives.is_failure & ~lives.is_exact & np.isin(lives.mode, list(modes)))


def interval_failures(
    histories: Histories, distributions: Sequence[ModeDistributions], points: QuadratureSizes = FINE
) -> list[CompetingIntervals]:
    """The interval failures, grouped into lives under one condition and lives over several, with quadrature points.

    Parameters
    ----------
    histories        all lives
    distributions    of every competing mode; rough ones will do, since they only set the number of points
    points           how many points an interval takes

    Returns
    -------
    list of CompetingIntervals    empty where every failure is exact
    """
    lives, is_within = histories.lives, failed_within(histories, [one.mode for one in distributions])
    plain, mixed = np.flatnonzero(is_within & ~histories.is_mixed), np.flatnonzero(is_within & histories.is_mixed)
    found = []
    if len(plain):
        row = plain[np.argsort(histories.condition[plain], kind="stable")]
        now = histories.condition[row]
        start, end = (Ages(age[row][:, None], now[:, None], now) for age in (lives.lower, lives.upper))
        counts = _counts(start, end, distributions, points)
        found.append(CompetingIntervals(histories, row, start, end, _inside_of_one(start, end, counts)))
    among = mixed - (len(lives) - len(histories.mixed_holes))
    for which, width in by_width(histories.among[among]):
        row, place = mixed[which], among[which]
        where, last = histories.among[place, :width], histories.condition[row]
        start, end = (Ages(histories.mixed_holes[place, side, :width], where, last) for side in (0, 1))
        found_among = [histories.mixed_histories[i] for i in place]
        counts = _counts(start, end, distributions, points)
        found.append(CompetingIntervals(histories, row, start, end, _inside_of_several(found_among, where, counts)))
    return found


def _counts(start: Ages, end: Ages, distributions: Sequence[ModeDistributions], points: QuadratureSizes) -> IntArray:
    """How many points each interval takes, shape (n,): by its ends as life used up, and by the hazard within it.

    With `MOST_POINTS` in each use of lives over several conditions instead, posterior means of log scales moved by at
    most 1e-6 of their spread (566 lives of the demo's kind, 146 of them over several; own measurement).
    """
    gained = [(end.under(one.mean)[0] - start.under(one.mean)[0])[0] for one in distributions]
    ratios = [end.used(one.mean)[0] / np.maximum(start.used(one.mean)[0], 1e-9) for one in distributions]
    return points.of(np.max(ratios, axis=0), np.sum(gained, axis=0))


def _inside_of_one(start: Ages, end: Ages, counts: IntArray) -> _Inside:
    life = np.arange(len(counts))
    none = np.zeros((len(counts), 1))
    return _inside_of(life, start.now, start.holes[:, 0], end.holes[:, 0], none, np.zeros_like(life), counts)


def _inside_of_several(histories: Sequence[History], among: IntArray, counts: IntArray) -> _Inside:
    """Each use within an interval takes as many points as the interval would alone."""
    life, now, low, high, before, place = [], [], [], [], [], []
    for i, history in enumerate(histories):
        place_of = {int(condition): j for j, condition in reversed(list(enumerate(among[i])))}
        for use, start, end in history.uses_between(history.lower, history.upper):
            holes = [0.0] * among.shape[1]
            for condition, made in history.holes_until(start):
                holes[place_of[condition]] += made
            holes[place_of[use.condition]] -= start
            life.append(i)
            now.append(use.condition)
            low.append(start)
            high.append(end)
            before.append(holes)
            place.append(place_of[use.condition])
    each = np.array(life)
    ends = np.array(low, float), np.array(high, float)
    return _inside_of(each, np.array(now), *ends, np.array(before), np.array(place), counts[each])


def _inside_of(
    life: IntArray,
    now: IntArray,
    low: FloatArray,
    high: FloatArray,
    before: FloatArray,
    place: IntArray,
    counts: IntArray,
) -> _Inside:
    """Points in stretches of intervals, each under one condition.

    Parameters
    ----------
    life, now, low, high : (n,)    index of the life, condition, ages at the ends
    before : (n, d)                holes in each condition of the life, less the age, in the one at `place`
    place : (n,)                   of the condition among those of the life
    counts : (n,)                  number of points
    """
    parts = []
    for count in np.unique(counts):
        which = np.flatnonzero(counts == count)
        ages, log_weight = _spread(low[which], high[which], int(count))
        of = np.repeat(which, count)
        holes = before[of]
        holes[np.arange(len(of)), place[of]] += ages
        parts.append((life[of], now[of], holes, log_weight))
    return _joined(parts)


def _joined(parts: Sequence[_Inside]) -> _Inside:
    life, now, holes, log_weight = (np.concatenate(column) for column in zip(*parts, strict=True))
    return life, now, holes, log_weight


def _spread(start: FloatArray, end: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Quadrature ages in each interval and the log of their weights, flat: Gauss-Legendre in the root of age."""
    points, weights = _gauss(count)
    low, width = np.sqrt(start)[:, None], (np.sqrt(end) - np.sqrt(start))[:, None]
    root = low + width * (points + 1) / 2
    return (root**2).ravel(), np.log(root * width * weights).ravel()


@cache
def _gauss(count: int) -> tuple[FloatArray, FloatArray]:
    points, weights = np.polynomial.legendre.leggauss(count)
    return points, weights
