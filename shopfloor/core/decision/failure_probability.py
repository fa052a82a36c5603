"""Will this tap last the batch: its chance of failing in the next holes, over all laws and given its past."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopfloor.core.decision.replacement_age import Change, cycle, interval
from shopfloor.core.hierarchical.model.frailty import spent
from shopfloor.core.hierarchical.prediction.draws import Laws, weights
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.survival.weibull import checked_ages


def chance_of_failing(
    laws: Laws, past: Sequence[float], next_holes: float, level: float, *, times: float = 1.0
) -> Estimate:
    """Chance that a tap fails by one mode within the next holes of a condition, having lasted until now.

    Parameters
    ----------
    laws          joint draws of the conditions of its past, the condition to come last
    past          holes that it has made in each of them
    next_holes    holes to come in the last of them
    level         of the interval, which tells how well the chance is known
    times         what the tap's hazard is taken times, by what else is known of it, as `slip_evidence`

    Returns
    -------
    Estimate      the mean over the posterior, which is the chance itself; and an equal-tailed interval

    References
    ----------
    W. Nelson, Accelerated Testing, 1990, chapter 10 (cumulative exposure)
    """
    return chance_of_any([laws], past, next_holes, level, times=[times])


def chance_of_any(
    modes: Sequence[Laws], past: Sequence[float], next_holes: float, level: float, *, times: Sequence[float] = ()
) -> Estimate:
    """Chance that a tap fails, by whichever of several modes, within the next holes; else as `chance_of_failing`."""
    chance, weight = chances(modes, past, next_holes, times), weights(modes)
    return Estimate(float(weight @ chance), *interval(chance, weight, level), level)


def chances(modes: Sequence[Laws], past: Sequence[float], next_holes: float, times: Sequence[float] = ()) -> FloatArray:
    """The chance of `chance_of_any` under each of the joint draws, shape (s,); `times` of each mode, none for 1."""
    checked_ages("age", past)
    checked_ages("next", next_holes)
    grown = [_spent_in(laws, past, next_holes) for laws in modes]
    faster = [a * by for a, by in zip(grown, times or [1.0] * len(modes), strict=True)]
    return np.asarray(-np.expm1(-np.sum(faster, axis=0)))


def _spent_in(laws: Laws, past: Sequence[float], next_holes: float) -> FloatArray:
    """By how much -log S grows in the next holes, under each law."""
    shape = np.exp(laws.log_shape[:, -1])
    used = used_up(laws, past)
    with np.errstate(divide="ignore"):
        ends = (np.log(used), np.log(used + next_holes * np.exp(-laws.log_scale[:, -1])))
    before, after = (spent(np.exp(np.minimum(shape * end, 300.0)), laws.frailty) for end in ends)
    return np.asarray(after - before)


def used_up(laws: Laws, past: Sequence[float]) -> FloatArray:
    """Life used up under each law, in characteristic lives, shape (s,)."""
    return np.asarray((np.asarray(past) * np.exp(-laws.log_scale)).sum(axis=1))


def as_holes_of_last(laws: Laws, past: Sequence[float]) -> float:
    """Holes of the last condition that would have used up as much life as the past did: the median over the laws."""
    holes = used_up(laws, past) * np.exp(laws.log_scale[:, -1])
    weight = weights([laws])
    order = np.argsort(holes)
    return float(holes[order][np.searchsorted(np.cumsum(weight[order]), 0.5)])


def usual_rate(laws: Sequence[Laws], mode: int, change: Change) -> float:
    """Failures by one mode in each hole, on the mean over taps that are used as advised.

    Parameters
    ----------
    laws      joint draws for each mode, in the condition of the holes
    mode      place of the mode asked for
    change    the advice for these taps; without an age they are run to failure
    """
    one = cycle(laws, change.age)
    return float(weights(laws) @ one.failed[mode] / (weights(laws) @ one.length))
