"""The two-parameter Weibull distribution of tap life, S(t) = exp(-(t / scale)^shape).

References: W. Weibull, A statistical distribution function of wide applicability, J. Appl. Mech. 18 (1951) 293-297;
NIST/SEMATECH e-Handbook of Statistical Methods, section 8.1.6.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gamma, xlogy

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import FloatArray

FROM_NEW = 1e100
"""Stands for log(end / start) where a stretch starts at age 0: finite, so that products with an exact 0 stay 0."""

LARGEST_EXPONENT = 600.0
"""exp(600) is far beyond any hazard that matters, and squares and sums of it still are doubles."""


def log_ratio(end: ArrayLike, start: ArrayLike) -> FloatArray:
    """log(end / start) for 0 <= start < end, exact where both are near; `FROM_NEW` where start is 0."""
    end_, start_ = np.broadcast_arrays(np.asarray(end, float), np.asarray(start, float))
    near = end_ < 2 * start_
    safe = np.where(start_ > 0, start_, 1.0)
    gap = np.where(near, (end_ - start_) / np.where(near, safe, end_ + 1.0), 0.0)
    far = np.log(np.where(end_ > 0, end_, 1.0)) - np.log(safe)
    return np.where(near, np.log1p(gap), np.where(start_ > 0, far, FROM_NEW))


def log_mass(shape: ArrayLike, log_end: ArrayLike, width: ArrayLike) -> FloatArray:
    """log of e^(shape log_end) - e^(shape (log_end - width)): cumulative hazard between two ages, up to its scale.

    Evaluated in logs, so neither a width of one hole in 10^9 nor a steep shape cancels or overflows.

    Parameters
    ----------
    shape, log_end, width : array_like    shape, log of the end, and log of end / start (above 0); of shapes that
                                          broadcast
    """
    b = np.asarray(shape, float)
    return np.asarray(b * log_end + np.log(-np.expm1(-b * np.asarray(width, float))))


def bounded_exp(exponent: ArrayLike) -> FloatArray:
    """exp without overflow: a hazard of exp(600) is practically infinite."""
    return np.exp(np.minimum(exponent, LARGEST_EXPONENT))


SHAPES = (1e-3, 1e6)
SCALES = (1e-300, 1e300)
"""Range of parameters for the computations; far wider than any tap needs."""


@dataclass(frozen=True)
class Weibull:
    """A Weibull distribution: a shape above 1 means a hazard that increases with age; 63.2 % have failed at `scale`.

    All methods take an age or an array of ages (same unit as `scale`, at least 0) and return the same form.
    """

    shape: float
    scale: float

    def __post_init__(self) -> None:
        for name, value, (low, high) in (("shape", self.shape, SHAPES), ("scale", self.scale, SCALES)):
            if not low <= value <= high:
                raise InputError.of(name, f"{value:g} is no {name}", f"give a number above 0, from {low:g} to {high:g}")

    def cumulative_hazard(self, age: ArrayLike) -> FloatArray:
        """H(t) = (t / scale)^shape, the expected number of failures up to t under minimal repair."""
        return bounded_exp(xlogy(self.shape, checked_ages("age", age)) - self.shape * math.log(self.scale))

    def survival(self, age: ArrayLike) -> FloatArray:
        """Probability that a life exceeds this age."""
        return np.exp(-self.cumulative_hazard(age))

    def hazard(self, age: ArrayLike) -> FloatArray:
        """Failures per hole among the taps that reach this age; infinite at 0 where shape is below 1."""
        rise = self.shape - 1
        log_rise = np.asarray(xlogy(rise, checked_ages("age", age)) - self.shape * math.log(self.scale))
        return np.where(np.isposinf(log_rise), np.inf, self.shape * bounded_exp(log_rise))

    def quantile(self, p: ArrayLike) -> FloatArray:
        """Age by which the share `p` (0 <= p < 1) has failed: `quantile(0.1)` is the life at 10 %."""
        p_ = np.asarray(p, float)
        if not np.all((p_ >= 0) & (p_ < 1)):
            raise InputError.of("p", "not a share of lives", "give numbers from 0 to below 1")
        log_hazard = np.log(-np.log1p(-np.maximum(p_, 1e-300)))
        return np.where(p_ > 0, np.exp(np.minimum(log_hazard / self.shape + math.log(self.scale), 709.0)), 0.0)

    @property
    def mean(self) -> float:
        """Mean life, scale Gamma(1 + 1 / shape)."""
        return self.scale * float(gamma(1 + 1 / self.shape))

    def chance_of_failing(self, age: ArrayLike, next_holes: ArrayLike) -> FloatArray:
        """Probability that a tap of this age fails within the next holes: 1 - S(a + n) / S(a).

        Evaluated as -expm1(H(a) - H(a + n)), so small probabilities keep their precision.
        """
        exponent = log_next_hazard(age, next_holes, self.shape) - self.shape * math.log(self.scale)
        return -np.expm1(-bounded_exp(exponent))


def log_next_hazard(age: ArrayLike, next_holes: ArrayLike, shape: ArrayLike, unit: ArrayLike = 1.0) -> FloatArray:
    """log of ((a + n)^shape - a^shape) / unit^shape; minus infinity where n is 0.

    Parameters
    ----------
    age, next_holes : array_like    holes (or the unit of `unit`), at least 0
    shape, unit : array_like        shape, and reference age; all of shapes that broadcast

    Raises
    ------
    InputError                      an age or a number of holes that is negative or not finite
    """
    a, n = np.broadcast_arrays(checked_ages("age", age), checked_ages("next", next_holes))
    some = a + n > a
    end = np.where(some, a + n, 1.0)
    width = log_ratio(end, np.where(some, a, 0.0))
    return np.where(some, log_mass(shape, np.log(end) - np.log(unit), width), -np.inf)


def checked_ages(name: str, ages: ArrayLike) -> FloatArray:
    """Ages as an array of floats.

    Raises
    ------
    InputError    anything negative or not finite; names the argument
    """
    ages_ = np.asarray(ages, float)
    if not np.all(np.isfinite(ages_) & (ages_ >= 0)):
        raise InputError.of(name, "not a number of holes", "give finite numbers from 0 on")
    return ages_
