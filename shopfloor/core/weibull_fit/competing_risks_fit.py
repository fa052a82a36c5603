"""Joint maximum likelihood of competing risks with interval failures, where the likelihood does not factor by mode.

For each mode in turn a surrogate of the likelihood is maximised, near given estimates of all. A tap that failed by
another mode within an interval had survived this mode up to its failure, not only up to the interval: it counts as a
survivor at the age with the expected cumulative hazard of this mode. A tap that failed by this mode did so before any
other mode. The remainder of the exact likelihood (`shopfloor.core.weibull_fit.competing_risks`) is added as a linear
function of the parameters, so that value and slope are exact at the given estimates. Iterated to convergence, this
gives the joint estimates; there each surrogate also gives the uncertainty of its own mode, except for the small
contribution of the other modes to the curvature.

Where all failures are exact, modes are fitted one by one, the others being censoring. The intervals of each mode are
given the others at their estimates.

Reference: K. Lange, D. R. Hunter & I. Yang, Optimization transfer using surrogate objective functions, J. Comput.
Graph. Statist. 9 (2000) 1-20 (surrogates with the slope of the objective). Choice of surrogate: own derivation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shopfloor.core.errors import NotConverged
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.weibull_fit.competing_risks import IntervalFailures, LogParameters
from shopfloor.core.weibull_fit.likelihood import Likelihood, Slices
from shopfloor.core.weibull_fit.maximise import NoMaximum, find_maximum, joint_newton
from shopfloor.core.weibull_fit.small_sample import PLAIN

MOST_ROUNDS = 150
"""Far more rounds over the modes than the lives of a shop need (about 8)."""

DAMPED_AFTER, LEAST_STEP = 15, 0.125
"""Rounds after which steps are halved, and the least share of a step: with few lives in wide intervals full steps may
oscillate."""

SETTLED = 1e-9
"""Converged when no log shape and no log scale changes by more in a round."""

LEVEL_ENOUGH, STEP = 1e-6, 1e-4
"""Slope of the log-likelihood taken for 0, and step of the finite differences of slopes, in logs."""


class SurrogateLikelihood(Likelihood):
    """Log-likelihood of some lives plus a linear function of the parameters, by its value and slope at an estimate."""

    def __init__(self, lives: Lives, estimate: LogParameters, value: float, slope: FloatArray) -> None:
        super().__init__(lives)
        b, distance = math.exp(estimate.log_shape), math.log(self.unit) - float(estimate.log_scale)
        # log scale is log unit - c / shape.
        self._by_shape, self._by_c = float(slope[0] + slope[1] * distance), float(-slope[1] / b)
        self._level = value - self._by_shape * float(estimate.log_shape) - self._by_c * b * distance

    @property
    def is_plain(self) -> bool:
        """See `Likelihood`: no closed form."""
        return False

    def at(self, shape: FloatArray) -> Slices:
        """See `Likelihood`."""
        plain = super().at(shape)
        fixed = plain.fixed + self._level + self._by_shape * np.log(shape)
        return replace(plain, fixed=fixed, exact=plain.exact + self._by_c)

    def derivatives(self, log_shape: float, c: float) -> tuple[FloatArray, FloatArray]:
        """See `Likelihood`."""
        gradient, hessian = super().derivatives(log_shape, c)
        return gradient + np.array([self._by_shape, self._by_c]), hessian


def mode_likelihood(lives: Lives, mode: str, estimates: Mapping[str, LogParameters]) -> Likelihood:
    """Surrogate of the likelihood for one mode, near estimates of all.

    Parameters
    ----------
    lives : Lives                   any mix, each failure with its mode
    mode : str                      the mode whose parameters vary
    estimates : mapping             estimates of the modes, by mode

    Returns
    -------
    Likelihood                      the plain one where modes factor or this one has no estimate

    References
    ----------
    Lange, Hunter & Yang 2000
    """
    own = estimates.get(mode)
    competing = {name: estimate for name, estimate in estimates.items() if name != mode}
    within = lives.is_failure & ~lives.is_exact & np.isin(lives.mode, list(estimates))
    if own is None or not competing or not within.any():
        return Likelihood(lives.of_mode(mode))
    lower, value, slope = lives.lower.copy(), 0.0, np.zeros(2)
    for failed in estimates:
        which = within & (lives.mode == failed)
        ends = lives.lower[which], lives.upper[which]
        if failed == mode:
            remainder = _failed_first(*ends, own, tuple(competing.values()))
        else:
            first = competing[failed], *(estimate for name, estimate in competing.items() if name != failed)
            lower[which], remainder = _survived_until(*ends, own, first)
        value, slope = value + remainder.value @ lives.count[which], slope + lives.count[which] @ remainder.slope
    seen = replace(lives, lower=lower, upper=np.where(np.isfinite(lives.upper), np.maximum(lives.upper, lower), np.inf))
    return SurrogateLikelihood(seen.of_mode(mode), own, float(value), slope)


class Remainder(NamedTuple):
    """Remainder of the log-likelihood of some lives: values, shape (n,), and slopes by the parameters, shape (n, 2)."""

    value: FloatArray
    slope: FloatArray


def _failed_first(
    start: FloatArray, end: FloatArray, own: LogParameters, competing: Sequence[LogParameters]
) -> Remainder:
    """Remainder for failures by the own mode: that no other mode came first."""
    inside, alone = IntervalFailures.of(start, end, (own, *competing)), IntervalFailures.of(start, end, (own,))
    return Remainder(inside.value - alone.value, inside.derivatives([0])[0] - alone.derivatives()[0])


def _survived_until(
    start: FloatArray, end: FloatArray, own: LogParameters, competing: Sequence[LogParameters]
) -> tuple[FloatArray, Remainder]:
    """Failures by another mode: ages up to which the own mode counts as survived, and the remainder."""
    failed, *others = competing
    inside = IntervalFailures.of(start, end, (failed, own, *others))
    without = IntervalFailures.of(start, end, competing)
    there = inside.hazards[1].mean(inside.share)
    age = np.exp(own.log_scale + there.log_hazard[..., 0] / there.shape)
    survived = there.survived()
    slope = inside.derivatives([1])[0] - np.concatenate([survived.b, survived.m], axis=-1)
    return np.clip(age, start, end), Remainder(inside.value - without.value + there.gained[..., 0], slope)


def modes_factor(lives: Lives) -> bool:
    """Whether the likelihood factors by mode: no interval failure, or no second mode."""
    within = lives.is_failure & ~lives.is_exact & (lives.mode != "")
    return not within.any() or len(lives.modes()) < 2


def joint_estimates(lives: Lives) -> dict[str, LogParameters]:
    """Joint maximum-likelihood estimates of all modes, without those that have no maximum.

    Empty where modes factor.

    Modes are updated in turn until none moves. Far from the solution a surrogate may have no maximum: a mode is dropped
    only if it has none once the others have converged. Where the rounds oscillate, or converge too slowly, a stationary
    point of the joint likelihood is solved for.

    Raises
    ------
    NotConverged    there is no stationary point nearby, or it is not a maximum
    """
    if modes_factor(lives):
        return {}
    alone = {mode: _estimate(Likelihood(lives.of_mode(mode)), None) for mode in lives.modes()}
    estimates = {mode: estimate for mode, estimate in alone.items() if estimate is not None}
    for number in range(MOST_ROUNDS):
        moved, without = 0.0, []
        for mode, last in list(estimates.items()):
            estimate = _estimate(mode_likelihood(lives, mode, estimates), last)
            if estimate is None:
                without.append(mode)
            else:
                moved = max(moved, _distance(last, estimate))
                estimates[mode] = _towards(last, estimate, max(LEAST_STEP, 0.5 ** (number // DAMPED_AFTER)))
        if moved < SETTLED:
            if not without:
                return estimates
            for mode in without:
                del estimates[mode]
    return _stationary_point(lives, estimates)


def _stationary_point(lives: Lives, estimates: Mapping[str, LogParameters]) -> dict[str, LogParameters]:
    """The estimates at a maximum of the joint likelihood near the given ones."""
    # Slow to load, and seldom needed.
    from scipy.optimize import root

    def named(place: FloatArray) -> dict[str, LogParameters]:
        return {mode: LogParameters(*pair) for mode, pair in zip(estimates, place.reshape(-1, 2), strict=True)}

    def slopes(place: FloatArray) -> FloatArray:
        here = named(place)
        return np.concatenate([_slope(mode_likelihood(lives, mode, here), estimate) for mode, estimate in here.items()])

    start = np.array([list(estimate) for estimate in estimates.values()], float).ravel()
    try:
        with np.errstate(all="ignore"):
            found = root(slopes, start, tol=SETTLED)
            is_maximum = (
                found.success and np.abs(found.fun).max() < LEVEL_ENOUGH and _curvatures(slopes, found.x).max() < 0
            )
    except (ArithmeticError, ValueError, np.linalg.LinAlgError):
        # The search left the range of representable parameters.
        is_maximum = False
    if not is_maximum:
        raise NotConverged("the modes of failure together")
    return named(found.x)


def _slope(likelihood: Likelihood, estimate: LogParameters) -> FloatArray:
    """Slope of the log-likelihood by (log shape, log scale), by the chain rule."""
    b = math.exp(estimate.log_shape)
    c = b * (math.log(likelihood.unit) - float(estimate.log_scale))
    by_shape, by_c = likelihood.derivatives(float(estimate.log_shape), c)[0]
    return np.array([by_shape + c * by_c, -b * by_c])


def _curvatures(slopes: Callable[[FloatArray], FloatArray], place: FloatArray) -> FloatArray:
    """Eigenvalues of the Hessian, from finite differences of the slopes; all below 0 at a maximum."""
    steps = STEP * np.eye(place.size)
    hessian = np.array([(slopes(place + step) - slopes(place - step)) / (2 * STEP) for step in steps])
    return np.asarray(np.linalg.eigvalsh((hessian + hessian.T) / 2))


def _estimate(likelihood: Likelihood, last: LogParameters | None) -> LogParameters | None:
    """The maximum-likelihood estimate, by Newton steps from the last one if they converge; None without a maximum."""
    found = None
    if last is not None:
        b = math.exp(last.log_shape)
        found = joint_newton(
            likelihood, PLAIN, (float(last.log_shape), b * (math.log(likelihood.unit) - float(last.log_scale)))
        )
    if found is None:
        answer = find_maximum(likelihood, PLAIN)
        found = None if isinstance(answer, NoMaximum) else answer[0]
    return None if found is None else LogParameters(found[0], math.log(likelihood.unit) - found[1] / math.exp(found[0]))


def _distance(last: LogParameters, estimate: LogParameters) -> float:
    return float(np.abs(np.array(estimate, float) - np.array(last, float)).max())


def _towards(last: LogParameters, estimate: LogParameters, share: float) -> LogParameters:
    """A share of the way from the last estimate to another."""
    return LogParameters(*(old + share * (new - old) for old, new in zip(last, estimate, strict=True)))
