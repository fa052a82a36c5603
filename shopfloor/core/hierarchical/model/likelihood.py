"""Log-likelihood of one failure mode in many conditions at once, with derivatives, for many hyperparameter settings.

A tap of one condition has the cumulative hazard H = (t / scale)^shape. Over several conditions each hole uses up life
at the rate of its condition (cumulative exposure): H = (sum of holes_c / scale_c)^shape. Taps of a kind differ: the
hazard of each is multiplied by a gamma variable of mean 1 and variance `frailty`, so a share
S = (1 + frailty H)^(-1 / frailty) of them survives, exp(-H) without frailty. Written with A = -log S:

- survived from entry to its last good age     A(entry) - A(age)
- failed somewhere in (lower, upper]            A(entry) - A(lower) + log(1 - exp(A(lower) - A(upper)))
- failed exactly at t                           log h(t) - (1 + frailty) A(t) + A(entry), h the hazard without frailty

The parameters of a condition are its log shape b and log scale m; arrays have the hyperparameter setting as their first
axis, shape (k, c).

References: W. Nelson, Accelerated Testing, 1990, chapter 10 (cumulative exposure); P. Hougaard, Analysis of
Multivariate Survival Data, 2000, section 2.4 (gamma frailty); J. P. Klein & M. L. Moeschberger, Survival Analysis,
2nd ed. 2003, section 3.5 (likelihoods). Derivatives: own derivation, checked by a test against finite differences.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shopfloor.core.hierarchical.model.conditions import Histories, IntArray
from shopfloor.core.hierarchical.model.cumulative_exposure import added, mixed_likelihoods
from shopfloor.core.hierarchical.model.frailty import (
    CumulativeHazard,
    LogLikelihood,
    gap_and_slope,
)
from shopfloor.core.hierarchical.model.own_lives import CountedAges, CountedIntervals, OwnLives
from shopfloor.core.survival.censored_data import BoolArray, FloatArray


class ModeLikelihood:
    """The likelihood of one mode of failure; lives that failed otherwise count as censored then.

    Parameters
    ----------
    histories     all lives
    mode          the failures that count; None for all
    conditions    number of conditions c
    elsewhere     mask of lives whose end another likelihood accounts for: only their entry counts here
    """

    def __init__(
        self, histories: Histories, mode: str | None, conditions: int, elsewhere: BoolArray | None = None
    ) -> None:
        lives = histories.lives
        failed = lives.is_failure if mode is None else lives.is_failure & (lives.mode == mode)
        self.failures = _counted(histories.condition[failed], lives.count[failed], conditions)
        self.lives = _counted(histories.condition, lives.count, conditions)
        plain = ~histories.is_mixed
        elsewhere = np.zeros(len(lives), dtype=bool) if elsewhere is None else elsewhere
        exact, between = failed & lives.is_exact, failed & ~lives.is_exact & ~elsewhere
        self._conditions = conditions
        self._histories = histories
        self._read_ages(histories, plain, exact, elsewhere)
        self._read_between(histories, plain & between)
        self._mixed = mixed_likelihoods(histories, exact, between, elsewhere, conditions)

    def _read_ages(self, histories: Histories, plain: BoolArray, exact: BoolArray, elsewhere: BoolArray) -> None:
        lives, where, n = histories.lives, histories.condition, self._conditions
        good, known, late = plain & (lives.lower > 0) & ~elsewhere, plain & exact, plain & (lives.entry > 0)
        condition = np.concatenate([where[good], where[known], where[late]])
        age = np.concatenate([lives.lower[good], lives.lower[known], lives.entry[late]])
        weight = np.concatenate([-lives.count[good], 0 * lives.count[known], lives.count[late]])
        frail = np.concatenate([0 * lives.count[good], -lives.count[known], 0 * lives.count[late]])
        # Ages repeat, as batches are whole numbers of holes: each distinct one is computed once.
        keys, place = np.unique(np.array([condition, age]), axis=1, return_inverse=True)
        place = place.ravel()
        which, ages = keys[0].astype(np.int64), len(keys[0])
        counted, frail = (_counted(place, counts, ages) for counts in (weight, frail))
        self._ages, self._by_age = CountedAges(which, np.log(keys[1]), counted, frail), Sums(which, n)
        self._exact = _counted(where[known], lives.count[known], n)
        self._log_ages = _counted(where[known], lives.count[known] * np.log(lives.lower[known]), n)

    def _read_between(self, histories: Histories, which: BoolArray) -> None:
        lives, rows = histories.lives, np.flatnonzero(which)
        rows = rows[np.argsort(histories.condition[rows], kind="stable")]
        self._between = histories.condition[rows]
        self._by_interval = Sums(self._between, self._conditions)
        self._low = np.log(np.maximum(lives.lower[rows], 1e-300))
        self._up = np.log(lives.upper[rows])
        self._times = lives.count[rows]

    @property
    def cells(self) -> tuple[IntArray, IntArray] | None:
        """Rows and columns of `LogLikelihood.mixed_hessian`, by b, then m, of every condition."""
        if not self._mixed:
            return None
        row, column = zip(*(part.cells for part in self._mixed), strict=True)
        return np.concatenate(row), np.concatenate(column)

    def log_life_ratio(self, b: float, m: FloatArray) -> float:
        """By how much, in logs, lives exceed the log scales m of their conditions, b being the log shape everywhere.

        The maximum likelihood estimate of a common factor, with one pseudo-failure after as many characteristic lives.
        Interval failures count at the end of their interval.

        Parameters
        ----------
        b           log shape of every condition
        m : (c,)    log scale of each
        """
        histories, lives, shape = self._histories, self._histories.lives, np.exp(b)
        ages = np.where(lives.is_failure, lives.upper, lives.lower)
        used = np.array([ages, lives.entry]) * np.exp(-m[histories.condition])
        if len(histories.mixed_holes):
            which = np.where(lives.is_failure[histories.is_mixed], 1, 0)
            until = histories.mixed_holes[np.arange(len(which)), which], histories.mixed_holes[:, 2]
            used[:, histories.is_mixed] = [(holes * np.exp(-m[histories.among])).sum(axis=1) for holes in until]
        until_end, at_entry = used**shape
        hazard = lives.count @ np.maximum(until_end - at_entry, 0.0)
        return float(np.log((hazard + 1) / (self.failures.sum() + 1)) / shape)

    def log_likelihood(self, b: FloatArray, m: FloatArray, frailty: FloatArray) -> LogLikelihood:
        """Value and derivatives at b, m and frailty.

        Parameters
        ----------
        b, m : (k, c)     log shape and log scale of each condition
        frailty : (k,)    variance of the gamma frailty
        """
        plain = self.plain_log_likelihood(b, m, frailty)
        return (
            added(plain, [part.log_likelihood(b, m, frailty[:, None]) for part in self._mixed])
            if self._mixed
            else plain
        )

    def plain_log_likelihood(self, b: FloatArray, m: FloatArray, frailty: FloatArray) -> LogLikelihood:
        """That of the lives under one condition each.

        Parameters
        ----------
        b, m : (k, c)     log shape and log scale of each condition
        frailty : (k,)    variance of the gamma frailty
        """
        theta = frailty[:, None]
        shape = np.exp(b)
        drift, steep = shape * (self._log_ages - self._exact * m), shape * self._exact
        value = self._exact * b + drift - self._log_ages
        columns = np.array([value, self._exact + drift, -steep, -drift, steep, np.zeros_like(b)])
        for part in self._plain_parts(b, m, theta):
            columns += part
        value, by_b, by_m, bb, bm, mm = columns
        return LogLikelihood(value.sum(axis=1), by_b, by_m, *_semi_definite(bb, bm, mm))

    def _plain_parts(self, b: FloatArray, m: FloatArray, theta: FloatArray) -> Iterator[FloatArray]:
        """Parts of lives under one condition, without exact hazards: the columns of `LogLikelihood`, (6, k, c)."""
        if len(self._ages.condition):
            yield self._at_ages(np.exp(b), m, theta)
        if len(self._between):
            yield self._in_between(np.exp(b), m, theta)

    @property
    def own(self) -> OwnLives:
        """The lives used under one condition only."""
        intervals = CountedIntervals(self._between, self._low, self._up, self._times)
        return OwnLives(self.failures, self.lives, self._exact, self._log_ages, self._ages, intervals)

    def _at_ages(self, shape: FloatArray, m: FloatArray, theta: FloatArray) -> FloatArray:
        seen = self._ages
        w = shape[:, seen.condition] * (seen.log_age - m[:, seen.condition])
        curve = CumulativeHazard.at(w, theta)
        counted = seen.weight + theta * seen.frail
        slope, bend = curve.first * counted, curve.second * counted
        twist = bend * w
        value, first, slope, second, twist, bend = self._by_age.of(
            [curve.value * counted, slope, slope * w, bend, twist, twist * w]
        )
        return np.array([value, slope, -shape * first, -(bend + slope), shape * (twist + first), -(shape**2) * second])

    def _in_between(self, shape: FloatArray, m: FloatArray, theta: FloatArray) -> FloatArray:
        """log(1 - exp(A(lower) - A(upper))) of interval failures; surviving to `lower` counts among the ages."""
        shapes, scales = shape[:, self._between], m[:, self._between]
        w1, w2 = shapes * (self._low - scales), shapes * (self._up - scales)
        low, up = CumulativeHazard.at(w1, theta), CumulativeHazard.at(w2, theta)
        gap, rise = gap_and_slope(low, up)
        fall = -rise * (1 + rise)
        by_b = up.first * w2 - low.first * w1
        by_m = -shapes * (up.first - low.first)
        bb = up.second * w2**2 - low.second * w1**2 + by_b
        bm = -shapes * (up.second * w2 - low.second * w1) + by_m
        mm = shapes**2 * (up.second - low.second)
        columns = [
            np.log(-np.expm1(-gap)), rise * by_b, rise * by_m,
            -(rise * bb + fall * by_b**2), -(rise * bm + fall * by_b * by_m), -(rise * mm + fall * by_m**2),
        ]  # fmt: skip
        return self._by_interval.of([column * self._times for column in columns])


class Sums:
    """Sums by condition over n items, which are ordered by condition."""

    def __init__(self, condition: IntArray, conditions: int) -> None:
        self._conditions = conditions
        self._present, self._starts = np.unique(condition, return_index=True)

    def of(self, columns: Sequence[FloatArray]) -> FloatArray:
        """Sums of columns of values, shape (k, n) each: shape (columns, k, c)."""
        values = np.array(columns)
        found = np.zeros((*values.shape[:2], self._conditions))
        if len(self._present):
            found[..., self._present] = np.add.reduceat(values, self._starts, axis=2)
        return found


def _counted(place: IntArray, counts: FloatArray, room: int) -> FloatArray:
    """Sums of counts by index, shape (room,)."""
    return np.asarray(np.bincount(place, counts, room), np.float64)


def _semi_definite(bb: FloatArray, bm: FloatArray, mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Each symmetric 2 x 2 matrix with negative eigenvalues set to 0, so that every Newton step is an ascent."""
    middle, half = (bb + mm) / 2, (bb - mm) / 2
    reach = np.hypot(half, bm)
    is_bad = middle - reach < 0
    if not is_bad.any():
        return bb, bm, mm
    top = np.maximum(middle + reach, 0.0)
    # The eigenvector of the larger eigenvalue, from whichever column does not cancel.
    along_b = np.where(half >= 0, half + reach, bm)
    along_m = np.where(half >= 0, bm, reach - half)
    long = np.maximum(np.hypot(along_b, along_m), 1e-300)
    along_b, along_m = along_b / long, along_m / long
    return (
        np.where(is_bad, top * along_b**2, bb),
        np.where(is_bad, top * along_b * along_m, bm),
        np.where(is_bad, top * along_m**2, mm),
    )
