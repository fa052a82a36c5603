"""Profile-likelihood intervals: what a figure can be while the log-likelihood stays near its maximum.

The region holds all laws with 2 (maximum - log-likelihood) at most the chi-square quantile (1 degree of freedom) of the
level. The profile interval of any figure is the range of that figure over the region, so one walk along the region's
border serves shape, scale, lives, survival and risks alike.

Reference: W. Q. Meeker & L. A. Escobar, Teaching about approximate confidence regions based on maximum likelihood
estimation, The American Statistician 49 (1995) 48-53; Statistical Methods for Reliability Data, 1998, section 8.3.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.likelihood import Likelihood
from shopfloor.core.observations import FloatArray
from shopfloor.core.weibull import log_next_hazard

DEFAULT_LEVEL = 0.90

SHAPE_LIMITS = (0.05, 1000.0)
"""Shapes beyond these are not estimates but signs that the data do not bound the shape on that side."""

BORDER_POINTS = 64
NET_STEPS = 9
ZOOM = np.linspace(-1.0, 1.0, 9)

Figure = Callable[[FloatArray, FloatArray], FloatArray]
"""A figure as a function of (shape, c): arrays that broadcast with its own leading axis (k, 1), answer (k, m)."""


@dataclass(frozen=True)
class Estimate:
    """One figure with its interval; `value` is None where only a bound is known. Open ends are infinite."""

    value: float | None
    lower: float
    upper: float
    level: float


@dataclass(frozen=True, eq=False)
class Estimates:
    """Several figures with their intervals, each an array of one shape; `value` None where only bounds are known."""

    value: FloatArray | None
    lower: FloatArray
    upper: FloatArray
    level: float

    def one(self) -> Estimate:
        """The only figure as plain numbers."""
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
    """The level of an interval.

    Raises
    ------
    InputError    not between 0 and 1
    """
    if not 0 < level < 1:
        raise InputError.of("level", f"{level:g} is no level", "give a number between 0 and 1, such as 0.90")
    return level


@dataclass(frozen=True, eq=False)
class Region:
    """The laws that the data do not contradict at `level`, around the maximum (log_shape, c)."""

    likelihood: Likelihood
    log_shape: float
    c: float
    maximum: float
    level: float

    @property
    def deviance(self) -> float:
        """The chi-square quantile (1 degree of freedom) of the level."""
        return float(ndtri((1 + self.level) / 2) ** 2)

    @property
    def target(self) -> float:
        """The log-likelihood on the border."""
        return self.maximum - self.deviance / 2

    @cached_property
    def log_shape_ends(self) -> tuple[float, float]:
        """Where the profile of the shape leaves the region; a limit of `SHAPE_LIMITS` where it does not."""
        return self._shape_end(math.log(SHAPE_LIMITS[0])), self._shape_end(math.log(SHAPE_LIMITS[1]))

    @cached_property
    def shape_interval(self) -> tuple[float, float]:
        """Profile interval of the shape; 0 and infinity are open ends."""
        low, high = (math.exp(end) for end in self.log_shape_ends)
        return (low if low > SHAPE_LIMITS[0] * 1.0001 else 0.0), (high if high < SHAPE_LIMITS[1] * 0.9999 else math.inf)

    def profile(self, log_shape: float) -> tuple[float, float]:
        """Largest log-likelihood at a shape, and its slope by log shape."""
        slices = self.likelihood.at(np.exp(np.array([log_shape])))
        c = slices.peak()
        gradient, _ = self.likelihood.derivatives(log_shape, float(c[0]))
        return float(slices.value(c)[0]), float(gradient[0])

    def signed_root(self, log_shape: float) -> float:
        """Square root of the profile deviance of a shape, negative below the estimate: about standard normal."""
        return math.copysign(self._root(self.profile(log_shape)[0]), log_shape - self.log_shape)

    def range(self, figure: Figure) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Smallest and largest value of each of k figures over the region, and the shapes at which they lie.

        All four of shape (k,). Found on the border: each figure must be monotone in c, or in the shape.
        """
        ends = [self._extreme(figure, sign) for sign in (-1.0, 1.0)]
        return -ends[0][0], ends[1][0], ends[0][1], ends[1][1]

    def border(self, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(shape, c) of points on the border, any shape of array; angles count from the largest shape."""
        low, high = self.log_shape_ends
        log_shape = (low + high) / 2 + (high - low) / 2 * np.cos(angle)
        shape = np.exp(np.clip(log_shape, low, high))
        slices = self.likelihood.at(shape.ravel())
        c = slices.edge(self.target, np.sin(angle.ravel()) >= 0, slices.peak())
        return shape, c.reshape(shape.shape)

    def net(self) -> tuple[FloatArray, FloatArray]:
        """(shape, c) of points all over the region, for figures that are monotone in neither."""
        _, shape, c = self._walk
        out = np.linspace(0.0, 1.0, NET_STEPS)[:, None]
        return np.exp(self.log_shape + out * (np.log(shape) - self.log_shape)), self.c + out * (c - self.c)

    @cached_property
    def _walk(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Points all along the border: angle, shape, c."""
        angle = np.asarray((np.arange(BORDER_POINTS) + 0.5) * (2 * math.pi / BORDER_POINTS))
        shape, c = self.border(angle)
        return angle, shape, c

    def _extreme(self, figure: Figure, sign: float) -> tuple[FloatArray, FloatArray]:
        """Largest sign * figure on the border: coarse walk, three zooms, a parabola through the last three points."""
        angle, shape, c = self._walk
        values = sign * figure(shape[None, :], c[None, :])
        centre = angle[values.argmax(axis=1)]
        step = 2 * math.pi / BORDER_POINTS
        for _ in range(3):
            angles = centre[:, None] + step * ZOOM
            shapes, cs = self.border(angles)
            values = sign * figure(shapes, cs)
            best = np.clip(values.argmax(axis=1), 1, len(ZOOM) - 2)
            rows = np.arange(len(best))
            centre = angles[rows, best]
            step *= float(ZOOM[1] - ZOOM[0])
        left, middle, right = (values[rows, best + k] for k in (-1, 0, 1))
        top = _vertex(left, middle, right) if self._is_closed else values.max(axis=1)
        return top, shapes[rows, best]

    @property
    def _is_closed(self) -> bool:
        low, high = self.shape_interval
        return low > 0 and math.isfinite(high)

    def _root(self, log_likelihood: float) -> float:
        return math.sqrt(max(2 * (self.maximum - log_likelihood), 0.0))

    def _shape_end(self, limit: float) -> float:
        """Newton steps on the root of the profile deviance, nearly straight in log shape, kept between known points."""
        goal = math.sqrt(self.deviance)
        if self._root(self.profile(limit)[0]) <= goal:
            return limit
        _, hessian = self.likelihood.derivatives(self.log_shape, self.c)
        spread = math.sqrt(-1 / (hessian[0, 0] - hessian[0, 1] ** 2 / hessian[1, 1]))
        inside, outside = self.log_shape, limit
        here = self.log_shape + math.copysign(min(goal * spread, abs(limit - inside) / 2), limit - inside)
        for _ in range(100):
            value, slope = self.profile(here)
            root = self._root(value)
            inside, outside = (here, outside) if root < goal else (inside, here)
            there = here + (root - goal) * root / slope if slope else math.nan
            if not min(inside, outside) < there < max(inside, outside):
                there = (inside + outside) / 2
            if abs(there - here) < 1e-11:
                return there
            here = there
        raise NotConverged("the end of the shape's interval")


def _vertex(left: FloatArray, middle: FloatArray, right: FloatArray) -> FloatArray:
    """Top of the parabola through three equally spaced values, or the largest of them where there is none inside."""
    bend = left - 2 * middle + right
    inside = (bend < 0) & (middle >= left) & (middle >= right)
    rise = np.where(inside, (left - right) ** 2 / (-8 * np.where(inside, bend, -1.0)), 0.0)
    return np.maximum(np.maximum(left, right), middle + rise)


def log_life(p: ArrayLike) -> Figure:
    """log of the age by which the share p has failed, over the reference age."""
    log_hazard = np.log(-np.log1p(-np.asarray(p, float)))[..., None]
    return lambda shape, c: (log_hazard - c) / shape


def log_cumulative_hazard(log_ages: FloatArray) -> Figure:
    """log H at ages given as log(age / reference)."""
    return lambda shape, c: c + shape * log_ages[:, None]


def log_next_risk(ages: FloatArray, next_holes: FloatArray, unit: float) -> Figure:
    """log of the hazard between each age and that age plus the next holes."""
    return lambda shape, c: c + log_next_hazard(ages[:, None], next_holes[:, None], shape, unit)
