"""One mode's likelihood over many conditions while others run too: exact within intervals near given laws.

As in `shopfloor.core.rivals`: a tap that failed by another mode within an interval counts as a survivor of this one up
to the mean age at which it will have failed; one that failed by this mode did so before any other came first. What
that leaves out of the exact integral over the interval, of the hazard of the failing mode times the survival of all,
is added as a straight line in the parameters, so that value and slope are exact at the laws given. Lives over several
conditions use up life along their path through the interval.

Every setting of this mode meets the other modes as they are on average over their own settings, in the middle of each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from shopfloor.core.observations import BoolArray, FloatArray
from shopfloor.core.pool.conditions import Histories, IntArray
from shopfloor.core.pool.curves import MOST_LOG_HAZARD, Terms, spent
from shopfloor.core.pool.terms import ModeLikelihood

SHORT = 1.5
FEW, MANY = 6, 24
"""Points in each use of a tap within the interval: few where the end is at most so many times the start. For lives
drawn from Weibull laws of scales from 40 to 900 holes the log of the integral is then off by less than 1e-5 in
intervals of 50 holes, and by 2e-6 in 99 of 100 (2e-4 at most) in those of 100 holes: own measurement."""


@dataclass(frozen=True, eq=False)
class ModeLaws:
    """Laws of one mode by setting: log shape and log scale of each condition, shape (k, c); frailty and weight (k,)."""

    mode: str
    log_shape: FloatArray
    log_scale: FloatArray
    frailty: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class Seen:
    """Some ages of n lives under the laws of one mode: all of shape (k, n).

    `log_hazard` w = log H, `first` the derivative of A by w, `log_rate` log h without frailty.
    """

    shape: FloatArray
    log_hazard: FloatArray
    value: FloatArray
    first: FloatArray
    log_rate: FloatArray
    used: FloatArray


@dataclass(frozen=True, eq=False)
class Ages:
    """Ages of lives by the holes made in each condition, shape (n, c), the condition then and the one at the end."""

    holes: FloatArray
    now: IntArray
    last: IntArray

    def under(self, laws: ModeLaws) -> Seen:
        """What the laws say of them."""
        shape, frailty = np.exp(laws.log_shape)[:, self.last], laws.frailty[:, None]
        used = np.maximum(np.exp(-laws.log_scale) @ self.holes.T, 1e-290)
        w = shape * np.log(used)
        hazard = np.exp(np.clip(w, -600.0, MOST_LOG_HAZARD))
        rate = laws.log_shape[:, self.last] + (1 - 1 / shape) * w - laws.log_scale[:, self.now]
        return Seen(shape, w, spent(hazard, frailty), hazard / (1 + frailty * hazard), rate, used)

    def slope(self, seen: Seen, laws: ModeLaws, by_w: FloatArray) -> FloatArray:
        """Sum of by_w, shape (k, n), times the slope of w by (log shape, log scale) of each condition: (k, c, 2)."""
        by_b = _by_condition(by_w * seen.log_hazard, self.last, self.holes.shape[1])
        by_m = -((by_w * seen.shape / seen.used) @ self.holes) * np.exp(-laws.log_scale)
        return np.stack([by_b, by_m], axis=-1)


@dataclass(frozen=True, eq=False)
class Intervals:
    """Failures of known modes within intervals: their starts and ends, and p points inside, ordered by life.

    Attributes
    ----------
    row, mode, count : (n,)     place among the lives, mode of failure, lives it stands for
    start, end : Ages of (n,)
    inside : Ages of (p,)
    life : (p,)                 which of the n lives a point belongs to
    log_weight : (p,)           of each point in an integral over age
    """

    row: IntArray
    mode: tuple[str, ...]
    count: FloatArray
    start: Ages
    end: Ages
    inside: Ages
    life: IntArray
    log_weight: FloatArray

    @classmethod
    def of(cls, histories: Histories, modes: Sequence[str], conditions: int) -> Intervals:
        """Those of these modes."""
        lives = histories.lives
        row = np.flatnonzero(lives.is_failure & ~lives.is_exact & np.isin(lives.mode, list(modes)))
        last = histories.condition[row]
        life, now, holes, log_weight = (
            np.concatenate(parts) for parts in zip(*_points(histories, row, conditions), strict=True)
        )
        order = np.argsort(life, kind="stable")
        inside = Ages(holes[order], now[order], last[life[order]])
        starts, ends = (
            _holes(histories, row, age, place, conditions) for place, age in enumerate((lives.lower, lives.upper))
        )
        return cls(
            row, tuple(str(mode) for mode in lives.mode[row]), lives.count[row],
            Ages(starts, last, last), Ages(ends, last, last), inside, life[order], log_weight[order],
        )  # fmt: skip

    def of_mode(self, mode: str) -> BoolArray:
        """Which of the lives failed by a mode."""
        return np.array([one == mode for one in self.mode], dtype=bool)


class Against(ModeLikelihood):
    """The likelihood of one mode, the laws of the others being given, near laws of its own."""

    def __init__(self, histories: Histories, found: Intervals, own: ModeLaws, rivals: Sequence[ModeLaws]) -> None:
        here = _Meeting(found, own, rivals)
        super().__init__(here.survivors(histories), own.mode, own.log_shape.shape[1])
        self._laws, (self._value, self.tilt) = own, here.left_out()

    def terms(self, b: FloatArray, m: FloatArray, frailty: FloatArray) -> Terms:
        """See `ModeLikelihood`: for the settings of the laws, in their order."""
        plain = super().terms(b, m, frailty)
        moved = np.stack([b - self._laws.log_shape, m - self._laws.log_scale], axis=-1)
        return replace(
            plain,
            value=plain.value + self._value + (self.tilt * moved).sum(axis=(1, 2)),
            by_b=plain.by_b + self.tilt[..., 0],
            by_m=plain.by_m + self.tilt[..., 1],
        )

    def of_settings(self, which: BoolArray, times: int) -> Against:
        """See `ModeLikelihood`."""
        found = copy(self)
        parts = (self._laws.log_shape, self._laws.log_scale, self._laws.frailty, self._laws.weight)
        found._laws = ModeLaws(self._laws.mode, *(np.concatenate([part[which]] * times) for part in parts))
        found._value, found.tilt = (np.concatenate([part[which]] * times) for part in (self._value, self.tilt))
        return found


class _Meeting:
    """One mode's laws and those of its rivals at the failures within intervals."""

    def __init__(self, found: Intervals, own: ModeLaws, rivals: Sequence[ModeLaws]) -> None:
        self._found, self._own = found, own
        self._is_own = found.of_mode(own.mode)
        self._start, self._end, self._inside = (ages.under(own) for ages in (found.start, found.end, found.inside))
        self._firsts = np.searchsorted(found.life, np.arange(len(found.row)))
        self._own_points = self._is_own[found.life]
        gained = self._inside.value - self._start.value[:, found.life]
        density = self._inside.log_rate - own.frailty[:, None] * self._inside.value - gained
        self._log_part = np.where(self._own_points, density, -gained) + self._by_rivals(rivals)
        self._log_sum = self._summed(self._log_part)
        self._share = np.exp(self._log_part - self._log_sum[:, found.life])
        # Where rivals failed: holes made until then, on average.
        mean = self._own.weight @ self._share
        self._until = Ages(
            np.add.reduceat(mean[:, None] * found.inside.holes, self._firsts), found.end.now, found.end.last
        )

    def survivors(self, histories: Histories) -> Histories:
        """The lives, those that failed by rivals within intervals as survivors until then."""
        lower, mixed = histories.lives.lower.copy(), histories.mixed.copy()
        rows, until = self._found.row[~self._is_own], self._until.holes[~self._is_own]
        lower[rows] = np.clip(until.sum(axis=1), lower[rows], histories.lives.upper[rows])
        among = rows - (len(lower) - len(mixed))
        where = histories.among[among[among >= 0]]
        is_again = where == where[:, :1]
        is_again[:, 0] = False
        mixed[among[among >= 0], 0] = np.where(is_again, 0.0, np.take_along_axis(until[among >= 0], where, axis=1))
        return replace(histories, lives=replace(histories.lives, lower=lower), mixed=mixed)

    def left_out(self) -> tuple[FloatArray, FloatArray]:
        """What the lives so changed leave out at the laws, (k,), and its slope there, (k, c, 2)."""
        until, count, own = self._until.under(self._own), self._found.count, self._is_own
        gap = np.clip(self._end.value - self._start.value, 1e-120, 600.0)
        alone = np.where(own, np.log(-np.expm1(-gap)), self._start.value - until.value)
        rise = np.where(own, count * np.exp(-gap) / -np.expm1(-gap), 0.0)
        at_end = np.where(own, -rise * self._end.first, 0.0)
        at_start = np.where(own, rise, -count) * self._start.first
        at_until = np.where(own, 0.0, count * until.first)
        slope = self._slope_inside() + self._found.end.slope(self._end, self._own, at_end)
        slope += self._found.start.slope(self._start, self._own, at_start)
        slope += self._until.slope(until, self._own, at_until)
        return (self._log_sum - alone) @ count, slope

    def _slope_inside(self) -> FloatArray:
        """Of the logs of the integrals."""
        found, seen, own = self._found, self._inside, self._own
        weight = self._share * found.count[found.life]
        failing = weight * self._own_points
        by_w = failing * (1 - 1 / seen.shape) - (weight + failing * own.frailty[:, None]) * seen.first
        slope = found.inside.slope(seen, own, by_w)
        # log h has b and -m in it, and b again within 1 / shape.
        slope[..., 0] += _by_condition(failing * (1 + seen.log_hazard / seen.shape), found.inside.last, slope.shape[1])
        slope[..., 1] -= _by_condition(failing, found.inside.now, slope.shape[1])
        at_start = found.count * self._start.first
        return slope + found.start.slope(self._start, own, at_start)

    def _by_rivals(self, rivals: Sequence[ModeLaws]) -> FloatArray:
        """log of what the rivals make of each point, with its weight: their survival, or the density of one of them.

        Where a rival failed the whole of an interval is 1, as nothing of it depends on this mode.
        """
        found = self._found
        total = found.log_weight
        for laws in rivals:
            start, inside = found.start.under(laws), found.inside.under(laws)
            gained = inside.value - start.value[:, found.life]
            density = inside.log_rate - laws.frailty[:, None] * inside.value - gained
            log_part = np.where(found.of_mode(laws.mode)[found.life], density, -gained)
            peak = log_part.max(axis=0)
            total = total + peak + np.log(np.maximum(laws.weight @ np.exp(log_part - peak), 1e-290))
        return np.asarray(np.where(self._own_points, total, total - self._summed(total[None])[0, found.life]))

    def _summed(self, log_part: FloatArray) -> FloatArray:
        """log of the sum over the points of each life, shape (k, n)."""
        peak = np.maximum.reduceat(log_part, self._firsts, axis=1)
        part = np.exp(log_part - peak[:, self._found.life])
        return np.asarray(peak + np.log(np.add.reduceat(part, self._firsts, axis=1)))


def _points(
    histories: Histories, row: IntArray, conditions: int
) -> Iterator[tuple[IntArray, IntArray, FloatArray, FloatArray]]:
    """Points inside the intervals of some lives: which life, condition then, holes in each condition, log weight."""
    lives = histories.lives
    start, end, plain = lives.lower[row], lives.upper[row], ~histories.is_mixed[row]
    is_short = end < SHORT * start
    for count, which in ((FEW, plain & is_short), (MANY, plain & ~is_short)):
        life = np.repeat(np.flatnonzero(which), count)
        now = histories.condition[row][life]
        ages, log_weight = _spread(start[which], end[which], count)
        holes = np.zeros((len(life), conditions))
        holes[np.arange(len(life)), now] = ages
        yield life, now, holes, log_weight
    for place in np.flatnonzero(~plain):
        history = histories.told[row[place] - len(lives)]
        for use, low, high in history.uses_between(float(start[place]), float(end[place])):
            ages, log_weight = _spread(np.array([low]), np.array([high]), MANY)
            holes = np.zeros((MANY, conditions))
            for one, age in zip(holes, ages, strict=True):
                for condition, made in history.spent_until(float(age)):
                    one[condition] += made
            yield np.full(MANY, place), np.full(MANY, use.condition), holes, log_weight


def _spread(start: FloatArray, end: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """So many ages in each interval with the log of their weights, flat: Gauss-Legendre in the root of age."""
    points, weights = np.polynomial.legendre.leggauss(count)
    low, width = np.sqrt(start)[:, None], (np.sqrt(end) - np.sqrt(start))[:, None]
    root = low + width * (points + 1) / 2
    return (root**2).ravel(), np.log(root * width * weights).ravel()


def _holes(histories: Histories, row: IntArray, age: FloatArray, place: int, conditions: int) -> FloatArray:
    """Holes in each condition up to an end of the interval, shape (n, c)."""
    holes = np.zeros((len(row), conditions))
    holes[np.arange(len(row)), histories.condition[row]] = age[row]
    among = row - (len(histories.lives) - len(histories.mixed))
    mixed = np.flatnonzero(among >= 0)
    holes[mixed] = 0.0
    np.add.at(holes, (mixed[:, None], histories.among[among[mixed]]), histories.mixed[among[mixed], place])
    return holes


def _by_condition(values: FloatArray, condition: IntArray, conditions: int) -> FloatArray:
    """Sums of values, shape (k, n), by condition: (k, c)."""
    return np.asarray(values @ (condition[:, None] == np.arange(conditions)).astype(float))
