"""Will this tap last the batch: its probability of failing in the next holes, over all draws and given its past."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopfloor.core.decision.replacement_age import ReplacementPolicy, credible_interval, cycle
from shopfloor.core.hierarchical.model.frailty import cumulative_hazard
from shopfloor.core.hierarchical.prediction.draws import Draws, weights
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.survival.weibull import checked_ages


def chance_of_failing(
    draws: Draws, past: Sequence[float], next_holes: float, level: float, *, hazard_ratio: float = 1.0
) -> Estimate:
    """Probability that a tap fails by one mode within the next holes, given that it has survived so far.

    Parameters
    ----------
    draws           joint draws for the conditions of its past, with the condition to come last
    past            holes it has made in each of them
    next_holes      holes to come in the last of them
    level           of the credible interval, between 0 and 1
    hazard_ratio    factor on this tap's hazard from what else is known of it, such as `SlipEvidence.factor`

    Returns
    -------
    Estimate        the posterior predictive probability, and the equal-tailed credible interval of the probability

    Raises
    ------
    InputError      a number of holes that is negative or not finite

    References
    ----------
    W. Nelson, Accelerated Testing, 1990, chapter 10 (cumulative exposure)
    """
    return chance_of_any([draws], past, next_holes, level, hazard_ratios=[hazard_ratio])


def chance_of_any(
    modes: Sequence[Draws],
    past: Sequence[float],
    next_holes: float,
    level: float,
    *,
    hazard_ratios: Sequence[float] = (),
) -> Estimate:
    """Probability that a tap fails by any of several modes within the next holes.

    Parameters
    ----------
    modes                joint draws of each mode; otherwise as in `chance_of_failing`
    past                 holes made in each condition
    next_holes, level    as in `chance_of_failing`
    hazard_ratios        one for each mode; empty: all 1
    """
    chance, weight = chances(modes, past, next_holes, hazard_ratios), weights(modes)
    return Estimate(float(weight @ chance), *credible_interval(chance, weight, level), level)


def chances(
    modes: Sequence[Draws], past: Sequence[float], next_holes: float, hazard_ratios: Sequence[float] = ()
) -> FloatArray:
    """The probability of `chance_of_any` under each of the joint draws, shape (s,).

    Parameters
    ----------
    modes            joint draws of each mode
    past             holes made in each condition, the condition to come last
    next_holes       holes to come in the last of them
    hazard_ratios    one for each mode; empty: all 1

    Raises
    ------
    InputError       a number of holes that is negative or not finite
    """
    checked_ages("age", past)
    checked_ages("next", next_holes)
    gained = [_hazard_gain(draws, past, next_holes) for draws in modes]
    scaled = [a * by for a, by in zip(gained, hazard_ratios or [1.0] * len(modes), strict=True)]
    return np.asarray(-np.expm1(-np.sum(scaled, axis=0)))


def chances_ahead(
    draws: Draws,
    past: Sequence[float],
    further: Sequence[float],
    batches: Sequence[float],
    level: float,
    *,
    hazard_ratio: float = 1.0,
) -> list[list[Estimate]]:
    """The probability of `chance_of_failing` in each batch, after each number of further holes that the tap survives.

    Parameters
    ----------
    draws           joint draws for the conditions of its past, with the condition to come last
    past            holes it has made in each of them
    further         holes that it makes in the last of them before a batch; one row of the result each
    batches         holes of a batch; one column each
    level           of the credible interval, between 0 and 1
    hazard_ratio    factor on this tap's hazard

    Raises
    ------
    InputError      a number of holes that is negative or not finite
    """
    for name, holes in (("age", past), ("age", further), ("next", batches)):
        checked_ages(name, holes)
    per_hole, weight = np.exp(-draws.log_scale[:, -1])[:, None], weights([draws])
    before = life_used(draws, past)[:, None] + per_hole * np.asarray(further, float)
    after = before[..., None] + per_hole[..., None] * np.asarray(batches, float)
    gained = _hazard(draws, after) - _hazard(draws, before)[..., None]
    chance = -np.expm1(-hazard_ratio * gained)
    return [
        [Estimate(float(weight @ one), *credible_interval(one, weight, level), level) for one in row.T]
        for row in chance.transpose(1, 0, 2)
    ]


def _hazard_gain(draws: Draws, past: Sequence[float], next_holes: float) -> FloatArray:
    """Increase of the cumulative hazard in the next holes, under each draw."""
    used = life_used(draws, past)
    return np.asarray(_hazard(draws, used + next_holes * np.exp(-draws.log_scale[:, -1])) - _hazard(draws, used))


def _hazard(draws: Draws, used: FloatArray) -> FloatArray:
    """Cumulative hazard under each draw once so much life is used up, in characteristic lives: (s, ...)."""
    by_draw = (-1,) + (1,) * (used.ndim - 1)
    with np.errstate(divide="ignore"):
        power = np.exp(draws.log_shape[:, -1]).reshape(by_draw) * np.log(used)
    return cumulative_hazard(np.exp(np.minimum(power, 300.0)), draws.frailty.reshape(by_draw))


def life_used(draws: Draws, past: Sequence[float]) -> FloatArray:
    """Life used up under each draw, in characteristic lives, shape (s,)."""
    return np.asarray((np.asarray(past) * np.exp(-draws.log_scale)).sum(axis=1))


def equivalent_holes(draws: Draws, past: Sequence[float]) -> float:
    """Holes of the last condition that would have used up as much life as the past: the median over the draws."""
    holes = life_used(draws, past) * np.exp(draws.log_scale[:, -1])
    weight = weights([draws])
    order = np.argsort(holes)
    return float(holes[order][np.searchsorted(np.cumsum(weight[order]), 0.5)])


def expected_failure_rate(draws: Sequence[Draws], mode: int, policy: ReplacementPolicy) -> float:
    """Failures by one mode per hole, expected over taps that are used as advised.

    Parameters
    ----------
    draws     joint draws of each mode, in the condition of the holes
    mode      index of the mode asked about
    policy    the advice for these taps; without an age they are run to failure
    """
    one = cycle(draws, policy.age)
    return float(weights(draws) @ one.failed[mode] / (weights(draws) @ one.length))
