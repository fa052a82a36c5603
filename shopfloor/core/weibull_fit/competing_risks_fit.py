"""The likelihood of one mode of failure while others run too, near given laws of all: modes do not factor in intervals.

A tap that failed by another mode within an interval had survived this mode up to its failure, not only up to the
interval: it counts as a survivor at the age with the expected hazard of this mode. A tap that failed by this mode did
so before any other mode came first. What these two leave out of the exact likelihood (`shopfloor.core.weibull_fit.competing_risks`) is
added as a straight line in the parameters, so that value and slope are exact at the given laws. Maximised in turn until
nothing moves, such likelihoods lead to the laws that are most likely together; there each also tells how far its law
may lie from that, all but for what little the rivals add to the curvature.

Reference: K. Lange, D. R. Hunter & I. Yang, Optimization transfer using surrogate objective functions, J. Comput.
Graph. Statist. 9 (2000) 1-20 (surrogates with the slope of the real thing). Which surrogate: own derivation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy.optimize import root

from shopfloor.core.errors import NotConverged
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.weibull_fit.competing_risks import IntervalFailures, LogParameters
from shopfloor.core.weibull_fit.likelihood import Likelihood, Slices
from shopfloor.core.weibull_fit.maximise import NoMaximum, find_maximum, joint_newton
from shopfloor.core.weibull_fit.small_sample import PLAIN

MOST_ROUNDS = 150
"""Far more rounds over the modes than the lives of a shop take (about 8)."""

DAMPED_AFTER, LEAST_STEP = 15, 0.125
"""Rounds after which the laws go only half as far, and the least share of the way: with few lives in wide intervals
whole steps may go to and fro."""

SETTLED = 1e-9
"""The laws are found when no log shape and no log scale moves by more in a round."""

LEVEL_ENOUGH, STEP = 1e-6, 1e-4
"""A slope that is as good as none, of a log-likelihood; and how far apart slopes are compared, in logs."""


class SurrogateLikelihood(Likelihood):
    """Log-likelihood of some lives, and something else near a law: its value there and its slope by the law."""

    def __init__(self, lives: Lives, estimate: LogParameters, value: float, slope: FloatArray) -> None:
        super().__init__(lives)
        b, distance = math.exp(estimate.log_shape), math.log(self.unit) - float(estimate.log_scale)
        # log scale is log unit - c / shape.
        self._by_shape, self._by_c = float(slope[0] + slope[1] * distance), float(-slope[1] / b)
        self._level = value - self._by_shape * float(estimate.log_shape) - self._by_c * b * distance

    @property
    def is_plain(self) -> bool:
        """See `Likelihood`: there is no closed form."""
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
    """The likelihood of one mode near these laws of all; the plain one where modes factor or it has no law."""
    own = estimates.get(mode)
    rivals = {name: estimate for name, estimate in estimates.items() if name != mode}
    within = lives.is_failure & ~lives.is_exact & np.isin(lives.mode, list(estimates))
    if own is None or not rivals or not within.any():
        return Likelihood(lives.of_mode(mode))
    lower, value, slope = lives.lower.copy(), 0.0, np.zeros(2)
    for failed in estimates:
        which = within & (lives.mode == failed)
        ends = lives.lower[which], lives.upper[which]
        if failed == mode:
            remainder = _failed_first(*ends, own, tuple(rivals.values()))
        else:
            first = rivals[failed], *(estimate for name, estimate in rivals.items() if name != failed)
            lower[which], remainder = _survived_until(*ends, own, first)
        value, slope = value + remainder.value @ lives.count[which], slope + lives.count[which] @ remainder.slope
    seen = replace(lives, lower=lower, upper=np.where(np.isfinite(lives.upper), np.maximum(lives.upper, lower), np.inf))
    return SurrogateLikelihood(seen.of_mode(mode), own, float(value), slope)


class Remainder(NamedTuple):
    """What the stretches of some lives leave out: values, shape (n,), and slopes by the law, shape (n, 2)."""

    value: FloatArray
    slope: FloatArray


def _failed_first(start: FloatArray, end: FloatArray, own: LogParameters, rivals: Sequence[LogParameters]) -> Remainder:
    """Of failures by the own mode: that no rival came first."""
    inside, alone = IntervalFailures.of(start, end, (own, *rivals)), IntervalFailures.of(start, end, (own,))
    return Remainder(inside.value - alone.value, inside.derivatives([0])[0] - alone.derivatives()[0])


def _survived_until(
    start: FloatArray, end: FloatArray, own: LogParameters, rivals: Sequence[LogParameters]
) -> tuple[FloatArray, Remainder]:
    """Of failures by a rival: ages up to which the own mode counts as survived, and what that leaves out."""
    failed, *others = rivals
    inside = IntervalFailures.of(start, end, (failed, own, *others))
    without = IntervalFailures.of(start, end, rivals)
    there = inside.hazards[1].mean(inside.share)
    age = np.exp(own.log_scale + there.log_hazard[..., 0] / there.shape)
    survived = there.survived()
    slope = inside.derivatives([1])[0] - np.concatenate([survived.b, survived.m], axis=-1)
    return np.clip(age, start, end), Remainder(inside.value - without.value + there.gained[..., 0], slope)


def modes_factor(lives: Lives) -> bool:
    """Whether each mode is fitted as if alone: no failure within an interval, or no second mode."""
    within = lives.is_failure & ~lives.is_exact & (lives.mode != "")
    return not within.any() or len(lives.modes()) < 2


def joint_estimates(lives: Lives) -> dict[str, LogParameters]:
    """The laws of all modes that are most likely together; those that show no law left out.

    None where modes factor.

    Each in turn near the last ones, until all stay. Far from the laws to be found the likelihood near the last ones may
    have no top: a mode is left out only if it shows no law where its rivals have settled. Where they go to and fro, or
    settle too slowly, the place is sought where the whole likelihood has no slope.

    Raises
    ------
    NotConverged    there is no such place nearby, or it is no maximum
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
    """The laws of these modes where the likelihood of all together has a maximum, near the given ones."""

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
        # The search went to where no law can be written down.
        is_maximum = False
    if not is_maximum:
        raise NotConverged("the modes of failure together")
    return named(found.x)


def _slope(likelihood: Likelihood, estimate: LogParameters) -> FloatArray:
    """Of the log-likelihood by (log shape, log scale) at a law, by the chain rule."""
    b = math.exp(estimate.log_shape)
    c = b * (math.log(likelihood.unit) - float(estimate.log_scale))
    by_shape, by_c = likelihood.derivatives(float(estimate.log_shape), c)[0]
    return np.array([by_shape + c * by_c, -b * by_c])


def _curvatures(slopes: Callable[[FloatArray], FloatArray], place: FloatArray) -> FloatArray:
    """How the log-likelihood bends along its main axes, from differences of its slopes; all below 0 at a maximum."""
    steps = STEP * np.eye(place.size)
    hessian = np.array([(slopes(place + step) - slopes(place - step)) / (2 * STEP) for step in steps])
    return np.asarray(np.linalg.eigvalsh((hessian + hessian.T) / 2))


def _estimate(likelihood: Likelihood, last: LogParameters | None) -> LogParameters | None:
    """The most likely law, near the last one where Newton steps lead there; None where there is none."""
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
    """So far of the way from the last law to another."""
    return LogParameters(*(old + share * (new - old) for old, new in zip(last, estimate, strict=True)))
