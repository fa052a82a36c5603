"""Estimates with their intervals, and estimands of a Weibull distribution as functions of its shape and c."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import rounded
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.weibull import log_next_hazard

DEFAULT_LEVEL = 0.90

SCALE_SHARE = -math.expm1(-1)
"""The share that has failed at the scale: 63.2 %."""

Estimand = Callable[[FloatArray, FloatArray], FloatArray]
"""An estimand as a function of (shape, c): arrays that broadcast with its own axes (k, 1), result (..., k, m)."""


@dataclass(frozen=True)
class Estimate:
    """An estimate with its interval; `value` is None where only a bound is known. Open ends are infinite."""

    value: float | None
    lower: float
    upper: float
    level: float


@dataclass(frozen=True, eq=False)
class Estimates:
    """Estimates with their intervals, arrays of equal shape; `value` is None where only bounds are known."""

    value: FloatArray | None
    lower: FloatArray
    upper: FloatArray
    level: float

    def one(self) -> Estimate:
        """The single estimate as plain numbers."""
        value = None if self.value is None else float(self.value.reshape(()))
        return Estimate(value, float(self.lower.reshape(())), float(self.upper.reshape(())), self.level)


@dataclass(frozen=True, eq=False)
class Band:
    """A survival curve over ages with its pointwise band; `survival` None where only a lower bound is known."""

    ages: FloatArray
    survival: FloatArray | None
    lower: FloatArray
    upper: FloatArray
    level: float


def checked_level(level: float) -> float:
    """The confidence level of an interval, checked.

    Raises
    ------
    InputError    not between 0 and 1
    """
    if not 0 < level < 1:
        raise InputError.of("level", f"{rounded(level)} is not a level", "give a number between 0 and 1, such as 0.90")
    return level


def log_life(p: ArrayLike) -> Estimand:
    """log of the quantile at p, over the reference age."""
    log_hazard = np.log(-np.log1p(-np.asarray(p, float)))[..., None]
    return lambda shape, c: (log_hazard - c) / shape


def log_cumulative_hazard(log_ages: FloatArray) -> Estimand:
    """log H at ages given as log(age / reference), shape (..., k)."""
    return lambda shape, c: c + shape * log_ages[..., None]


def log_next_risk(ages: FloatArray, next_holes: FloatArray, unit: ArrayLike) -> Estimand:
    """log of the cumulative hazard over the next holes.

    Parameters
    ----------
    ages, next_holes : shape (..., k)    holes, at least 0
    unit : array_like                    reference age in holes, of a shape that broadcasts

    Returns
    -------
    Estimand                             log(H(age + next) - H(age))

    Raises
    ------
    InputError                           when evaluated: anything negative or not finite
    """
    return lambda shape, c: c + log_next_hazard(ages[..., None], next_holes[..., None], shape, unit)
