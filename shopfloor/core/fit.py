"""Fits a Weibull law to tap lives by maximum likelihood, or says that there is not enough to fit.

The likelihood is maximised over c for each shape (concave, so exact), first on a coarse grid of shapes, which shows
whether there is a maximum at all, then by safeguarded Newton steps in the log of the shape.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.bounds import SCALE_SHARE, NotEnoughData
from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.intervals import (
    DEFAULT_LEVEL,
    SHAPE_LIMITS,
    Band,
    Estimate,
    Estimates,
    Region,
    checked_level,
    log_cumulative_hazard,
    log_life,
    log_next_risk,
)
from shopfloor.core.likelihood import Likelihood
from shopfloor.core.observations import Evidence, Lives
from shopfloor.core.weibull import Weibull, bounded_exp, checked_ages

METHODS = ("profile",)

LOG_SHAPES = np.linspace(math.log(SHAPE_LIMITS[0]), math.log(SHAPE_LIMITS[1]), 16)


@dataclass(frozen=True, eq=False)
class WeibullFit:
    """A fitted law with what it rests on; intervals are found when asked for.

    Attributes
    ----------
    weibull : Weibull            the maximum-likelihood law
    log_likelihood : float       at that law, on the scale of the ages, counts included; an interval failure
                                 adds the log of its probability
    level, method                of every interval: two-sided, by profile likelihood
    evidence : Evidence          taps, failures, holes
    """

    weibull: Weibull
    log_likelihood: float
    level: float
    method: str
    evidence: Evidence
    region: Region = field(repr=False)

    @property
    def sure(self) -> bool:
        """True: there is a fitted law (its intervals say how well it is known)."""
        return True

    @property
    def shape_interval(self) -> tuple[float, float]:
        """Profile interval of the shape; 0 and infinity are open ends."""
        return self.region.shape_interval

    @cached_property
    def scale_interval(self) -> tuple[float, float]:
        """Profile interval of the scale; 0 and infinity are open ends."""
        return self.life_interval(SCALE_SHARE)

    def life(self, p: float) -> float:
        """Age by which the share `p` (0 < p < 1) has failed."""
        return float(self.weibull.quantile(p))

    def life_interval(self, p: float) -> tuple[float, float]:
        """Profile interval of the age by which the share `p` has failed; 0 and infinity are open ends."""
        if not 0 < p < 1:
            raise InputError.of("p", f"{p:g} is no share of lives", "give a number between 0 and 1")
        low, high, low_shape, high_shape = (float(end[0]) for end in self.region.range(log_life(np.array([p]))))
        log_unit = math.log(self.region.likelihood.unit)
        return self._end(low + log_unit, low_shape, 0.0), self._end(high + log_unit, high_shape, math.inf)

    def survival_band(self, ages: ArrayLike) -> Band:
        """Survival at each age (holes, shape (m,)) with its pointwise profile interval."""
        ages_ = np.atleast_1d(checked_ages("ages", ages))
        log_ages = np.log(np.maximum(ages_, 1e-300)) - math.log(self.region.likelihood.unit)
        low, high, _, _ = self.region.range(log_cumulative_hazard(log_ages))
        lower, upper = (np.where(ages_ > 0, np.exp(-bounded_exp(end)), 1.0) for end in (high, low))
        return Band(ages_, self.weibull.survival(ages_), lower, upper, self.level)

    def risk(self, age: float, next_holes: float) -> Estimate:
        """Chance that a tap of this age (holes) fails within the next holes, with its profile interval."""
        return self.risks(age, next_holes).one()

    def risks(self, ages: ArrayLike, next_holes: ArrayLike) -> Estimates:
        """The same for many taps at once; arrays that broadcast."""
        a, n = np.broadcast_arrays(checked_ages("age", ages), checked_ages("next", next_holes))
        some = (a + n > a).ravel()
        lower, upper = np.zeros(a.size), np.zeros(a.size)
        figure = log_next_risk(a.ravel()[some], n.ravel()[some], self.region.likelihood.unit)
        if some.any():
            low, high, _, _ = self.region.range(figure)
            lower[some], upper[some] = -np.expm1(-bounded_exp(low)), -np.expm1(-bounded_exp(high))
        value = np.asarray(self.weibull.chance_of_failing(a, n))
        return Estimates(value, lower.reshape(a.shape), upper.reshape(a.shape), self.level)

    def _end(self, log_age: float, shape: float, open_end: float) -> float:
        """An end of a life's interval; open where the shape may fall to 0 there, or beyond doubles."""
        is_open = shape < SHAPE_LIMITS[0] * 1.05 or abs(log_age) > 700
        return open_end if is_open else math.exp(log_age)


LifeResult = WeibullFit | NotEnoughData
"""What a fit gives. Both answer: evidence, level, method, sure, life, life_interval, shape_interval, scale_interval,
survival_band, risk, risks."""


def fit_weibull(lives: Lives, level: float = DEFAULT_LEVEL, interval: str = "profile") -> LifeResult:
    """The Weibull law under which these lives are most likely, or why there is none.

    Parameters
    ----------
    lives : Lives       any mix of exact, interval- and right-censored, left-truncated lives
    level : float       of the intervals, between 0 and 1
    interval : str      their method; 'profile' is the only one

    Returns
    -------
    WeibullFit, or NotEnoughData where there are no failures or the likelihood has no maximum

    Raises
    ------
    InputError          level or interval cannot be
    NotConverged        the search did not end (not known to happen)

    References
    ----------
    J. F. Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, section 5.2
    """
    checked_level(level)
    if interval not in METHODS:
        raise InputError.of("interval", f"'{interval}' is not known", f"use {', '.join(METHODS)}")
    likelihood = Likelihood(lives)
    found = _no_maximum(likelihood) or _search(likelihood)
    if isinstance(found, _Lack):
        return NotEnoughData(lives.evidence, found.reason, found.enough, level, likelihood)
    log_shape, c = found
    region = Region(likelihood, log_shape, c, likelihood.value(log_shape, c), level)
    return WeibullFit(likelihood.weibull(log_shape, c), region.maximum, level, interval, lives.evidence, region)


def fit_modes(
    lives: Lives, level: float = DEFAULT_LEVEL, interval: str = "profile", modes: Sequence[str] | None = None
) -> dict[str, LifeResult]:
    """A fit for each mode of failure (those that occur, or the given ones), other modes being survived until then.

    References: W. Q. Meeker & L. A. Escobar, Statistical Methods for Reliability Data, 1998, section 15.4
    """
    wanted = lives.modes() if modes is None else modes
    return {mode: fit_weibull(lives.of_mode(mode), level, interval) for mode in wanted}


@dataclass(frozen=True)
class _Lack:
    """Why there is no maximum, and what would be enough."""

    reason: str
    enough: str


_NO_FAILURE = _Lack("no failure yet", "one failure, and a tap that outlived it")
_NOTHING_SURVIVED = _Lack("every tap had failed before it was first looked at", "a look at a tap that is still good")
_NO_SPREAD = _Lack(
    "the failures do not show how lives spread: all could have come at one age, and no tap outlived them",
    "a failure at another age, or a tap that outlives the failures",
)
_NO_START = _Lack(
    "the log does not show how often young taps fail", "failures at known holes of taps followed from new"
)


def _no_maximum(likelihood: Likelihood) -> _Lack | None:
    """What can be seen without a search."""
    if not likelihood.failures:
        return _NO_FAILURE
    return None if likelihood.exposed.weight.size else _NOTHING_SURVIVED


def _search(likelihood: Likelihood) -> tuple[float, float] | _Lack:
    """(log shape, c) of the maximum, or which end of the shapes the likelihood runs to."""
    slices = likelihood.at(np.exp(LOG_SHAPES))
    profile = slices.value(slices.peak())
    as_good = np.flatnonzero(profile >= profile.max() - 1e-9 * (1 + abs(float(profile.max()))))
    if as_good[-1] == len(LOG_SHAPES) - 1:
        return _NO_SPREAD
    best = int(profile.argmax())
    if best == 0:
        return _NO_START
    log_shape, c = _climb(likelihood, float(LOG_SHAPES[best - 1]), float(LOG_SHAPES[best]), float(LOG_SHAPES[best + 1]))
    is_written = abs(c) * math.exp(-log_shape) < 600
    return (log_shape, c) if is_written else _NO_START


def _climb(likelihood: Likelihood, low: float, here: float, high: float) -> tuple[float, float]:
    """Newton on the profile of the log shape, kept between shapes known to lie on either side."""
    for _ in range(100):
        c = float(likelihood.at(np.exp(np.array([here]))).peak()[0])
        gradient, hessian = likelihood.derivatives(here, c)
        slope = float(gradient[0])
        bend = float(hessian[0, 0] - hessian[0, 1] ** 2 / hessian[1, 1])
        low, high = (here, high) if slope > 0 else (low, here)
        there = here - slope / bend if bend < 0 else math.nan
        if abs(there - here) < 1e-9:
            return there, float(likelihood.at(np.exp(np.array([there]))).peak()[0])
        here = there if low < there < high else (low + high) / 2
    raise NotConverged("the shape of the Weibull law")
