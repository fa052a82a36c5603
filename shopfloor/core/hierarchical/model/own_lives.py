"""The lives used under one condition each, counted by condition: all that a draw's weight needs to know of a log.

As plain arrays they outlive the lives they were counted from, so that a posterior can be kept and read again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.model.conditions import IntArray
from shopfloor.core.hierarchical.model.frailty import (
    MOST_LOG_HAZARD,
    CumulativeHazard,
    cumulative_hazard,
    gap_and_slope,
)
from shopfloor.core.survival.censored_data import BoolArray, FloatArray


@dataclass(frozen=True, eq=False)
class CountedAges:
    """Distinct ages observed for lives under one condition: condition and log age, shape (n,).

    `weight` counts A itself, `frail` what frailty adds for exact failures.
    """

    condition: IntArray
    log_age: FloatArray
    weight: FloatArray
    frail: FloatArray


@dataclass(frozen=True, eq=False)
class CountedIntervals:
    """Failures within intervals with which nothing competes, in the order of their conditions, shape (n,)."""

    condition: IntArray
    log_lower: FloatArray
    log_upper: FloatArray
    count: FloatArray


@dataclass(frozen=True, eq=False)
class CompetingPoints:
    """Failures within intervals given the other modes, as quadrature points.

    Attributes
    ----------
    condition, count, many : (n,)   of each failure, ordered by condition: lives it stands for, number of its points
    is_own : (n,)                   whether it failed by the mode itself
    log_age : (p,)                  log age of each point, failure after failure
    log_competing : (p,)            log of what the other modes contribute there, with the quadrature weight
    """

    condition: IntArray
    count: FloatArray
    many: IntArray
    is_own: BoolArray
    log_age: FloatArray
    log_competing: FloatArray

    def log_likelihood(self, place: int, b: FloatArray, m: FloatArray, frailty: FloatArray) -> FloatArray:
        """Log of the integrals in one condition at many (b, m, frailty), shape (s,).

        Parameters
        ----------
        place                   index of the condition
        b, m, frailty : (s,)    log shape, log scale, variance of the gamma frailty
        """
        first, last = np.searchsorted(self.condition, [place, place + 1])
        if first == last:
            return np.zeros_like(b)
        many = self.many[first:last]
        start = int(self.many[:first].sum())
        inside, firsts = slice(start, start + int(many.sum())), np.cumsum(many) - many
        own, theta = np.repeat(self.is_own[first:last].astype(float), many), frailty[:, None]
        w = self.log_age[inside] - m[:, None]
        w *= np.exp(b)[:, None]
        log_part = (w + b[:, None]) * own
        value = cumulative_hazard(np.exp(np.minimum(w, MOST_LOG_HAZARD, out=w), out=w), theta)
        log_part += self.log_competing[inside]
        log_part -= (1 + own * theta) * value
        largest = np.maximum.reduceat(log_part, firsts, axis=1)
        log_part -= np.repeat(largest, many, axis=1)
        part = np.add.reduceat(np.exp(log_part, out=log_part), firsts, axis=1)
        return np.asarray((largest + np.log(part)) @ self.count[first:last])


@dataclass(frozen=True, eq=False)
class OwnLives:
    """What lives say of each of c conditions.

    Attributes
    ----------
    failures, lives : (c,)   of all lives that were last used there, in one condition or several
    exact, log_ages : (c,)   failures at a known hole of lives used there only: number, and sum of their log ages
    ages, intervals          survival and failures within intervals of lives used there only
    competing                failures within intervals in which modes compete; None where there is none
    """

    failures: FloatArray
    lives: FloatArray
    exact: FloatArray
    log_ages: FloatArray
    ages: CountedAges
    intervals: CountedIntervals
    competing: CompetingPoints | None = None

    def log_likelihood(self, place: int, b: FloatArray, m: FloatArray, frailty: FloatArray) -> FloatArray:
        """Log-likelihood of the lives used under one condition only, at many parameter values, shape (s,).

        Parameters
        ----------
        place                   index of the condition
        b, m, frailty : (s,)    log shape, log scale, variance of the gamma frailty
        """
        shape, scale, theta = np.exp(b)[:, None], m[:, None], frailty[:, None]
        value = self.exact[place] * b + shape[:, 0] * (self.log_ages[place] - self.exact[place] * m)
        here = slice(*np.searchsorted(self.ages.condition, [place, place + 1]))
        hazard = np.exp(np.minimum(shape * (self.ages.log_age[here] - scale), MOST_LOG_HAZARD))
        ages = cumulative_hazard(hazard, theta)
        value = value + ages @ self.ages.weight[here] + frailty * (ages @ self.ages.frail[here])
        value = value + self._within(place, shape, scale, theta) - self.log_ages[place]
        if self.competing is not None:
            value = value + self.competing.log_likelihood(place, b, m, frailty)
        return np.asarray(value)

    def _within(self, place: int, shape: FloatArray, scale: FloatArray, theta: FloatArray) -> FloatArray:
        inside = slice(*np.searchsorted(self.intervals.condition, [place, place + 1]))
        ends = (self.intervals.log_lower[inside], self.intervals.log_upper[inside])
        gap, _ = gap_and_slope(*(CumulativeHazard.at(shape * (end - scale), theta) for end in ends))
        return np.asarray(np.log(-np.expm1(-gap)) @ self.intervals.count[inside])
