"""The best moment in a batch to change the tap: carry on, change after some hole, or fit a fresh tap now.

Under one law a tap that is changed after h more holes costs, beyond what these holes cost in the long run,
    W(h) = Cp S(h) + sum over modes of C_mode F_mode(h) - g * integral of S from 0 to h
with S and F given all that the tap went through, and g the cost per hole of taps that are changed as advised
(relative values of a renewal process). As a share of what a tap costs in the long run under the best age, W differs
from one h to another by what is lost per hole if every tap were treated so; its mean over the laws is least at the
age that `best_change` advises, for a tap that was only used so.

References: R. Barlow & L. Hunter, Optimum preventive maintenance policies, Operations Research 8 (1960) 90-100;
R. A. Howard, Dynamic Programming and Markov Processes, 1960, chapter 4 (relative values).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shopfloor.core.errors import InputError
from shopfloor.core.observations import BoolArray, FloatArray
from shopfloor.core.pool.advice import FLAT, Change, Costs, cycle
from shopfloor.core.pool.conditions import IntArray
from shopfloor.core.pool.curves import MOST_LOG_HAZARD, spent
from shopfloor.core.pool.laws import Laws, weights
from shopfloor.core.pool.risk import used_up

Deed = Literal["carry on", "change within", "fresh now"]

_MOST_WITHIN, _MOST_BATCHES = 240, 120
"""So many moments are compared at most: a hole more or less makes no difference in a large batch."""


@dataclass(frozen=True)
class Moment:
    """What to do about a tap before a batch; plain values.

    Attributes
    ----------
    deed            'carry on' through this batch, 'change within' it, or 'fresh now'
    after_hole      holes of this batch after which to change; None unless the deed is to change within it
    batches         whole batches, this one included, after which to change; None where it need not be said
    lost_by_carrying_on, lost_by_fresh_now
                    what each would lose against the best moment, as a share of the cost per hole
    """

    deed: Deed
    after_hole: int | None
    batches: int | None
    lost_by_carrying_on: float
    lost_by_fresh_now: float


def best_moment(
    laws: Sequence[tuple[Laws, Sequence[float]]],
    batch: int,
    change: Change,
    costs: Costs,
    stop: float,
    times: Sequence[float] = (),
) -> Moment:
    """When to change this tap, counted from now.

    The end of a batch is preferred to a hole within it, and carrying on to a fresh tap now, wherever that loses no more
    than `FLAT`: less than anybody could notice.

    Parameters
    ----------
    laws      for each mode joint draws of the conditions of the tap's past, the batch's last; and its holes in each
    batch     holes to come
    change    the advice for taps that are only used as in this batch
    costs     a failure cost for each mode
    stop      what a change within a batch costs beyond one between batches
    times     what this tap's hazard of each mode is taken times; none for 1. The tap that comes after has its own

    Raises
    ------
    InputError    a batch of no hole
    """
    if batch < 1:
        raise InputError.of("holes", f"{batch} is no batch", "give a number above 0")
    if change.age is None:
        return Moment("carry on", None, None, 0.0, 0.0)
    moments, is_within = _moments(batch, change.age)
    lost = _lost(laws, moments, change.age, costs, np.where(is_within, stop, 0.0), times or [1.0] * len(laws))
    lost -= lost.min()
    by_end = np.flatnonzero(~is_within)
    now, ends = by_end[0], by_end[1:]
    best_end = ends[lost[ends].argmin()]
    carrying_on, fresh_now = float(lost[ends].min()), float(lost[now])
    best = int(lost.argmin())
    if min(carrying_on, fresh_now) > FLAT and is_within[best] and moments[best] < batch:
        return Moment("change within", int(moments[best]), None, carrying_on, fresh_now)
    if carrying_on <= FLAT or carrying_on <= fresh_now or (is_within[best] and moments[best] > batch):
        return Moment("carry on", None, round(moments[best_end] / batch), carrying_on, fresh_now)
    return Moment("fresh now", None, None, carrying_on, fresh_now)


def usual_chance(laws: Sequence[Laws], mode: int, change: Change, batch: int) -> float:
    """Chance that such a batch breaks its tap, on the mean over taps that are used as advised.

    Parameters
    ----------
    laws      joint draws for each mode, in the condition of the batch
    mode      place of the mode asked for
    change    the advice for these taps; without an age they are run to failure
    batch     holes
    """
    return float(-np.expm1(-usual_rate(laws, mode, change) * batch))


def usual_rate(laws: Sequence[Laws], mode: int, change: Change) -> float:
    """Failures by this mode in each hole, on the mean over taps that are used as advised; `laws` as `usual_chance`."""
    one = cycle(laws, change.age)
    return float(weights(laws) @ one.failed[mode] / (weights(laws) @ one.length))


def _moments(batch: int, age: float) -> tuple[FloatArray, BoolArray]:
    """Holes from now, 0 first, and which of them are within a batch; to well beyond the advised age."""
    within: IntArray = np.unique(np.linspace(1, batch - 1, min(batch - 1, _MOST_WITHIN)).astype(np.int64))
    most = max(2, int(np.ceil(1.5 * age / batch)))
    ends = batch * np.unique(np.linspace(1, most, min(most, _MOST_BATCHES)).astype(np.int64))
    # Between the ends of later batches the integrals want points too, and so does the search for the best.
    between = np.setdiff1d(np.linspace(batch, ends[-1], _MOST_WITHIN).astype(np.int64), ends)
    moments = np.unique(np.concatenate([[0], within, ends, between])).astype(np.int64)
    return moments.astype(float), moments % batch != 0


def _lost(
    laws: Sequence[tuple[Laws, Sequence[float]]],
    moments: FloatArray,
    age: float,
    costs: Costs,
    stop: FloatArray,
    times: Sequence[float],
) -> FloatArray:
    """Mean of W over the cost of a tap, shape (t,)."""
    here = [_here(one) for one, _ in laws]
    hazard = np.array([by * _spent_from_now(*one, moments) for by, one in zip(times, laws, strict=True)])
    survival = np.exp(-hazard.sum(axis=0))
    step = np.diff(hazard, axis=2)
    total = step.sum(axis=0)
    share = step / np.where(total > 0, total, 1.0) * (survival[:, :-1] - survival[:, 1:])
    holes = np.cumsum(np.diff(moments) * (survival[:, 1:] + survival[:, :-1]) / 2, axis=1)
    failed = np.einsum("m,mst->st", np.array(costs.failure), np.cumsum(share, axis=2))
    advised = cycle(here, age, costs)
    worth = np.concatenate([np.zeros((len(holes), 1)), failed - advised.rate[:, None] * holes], axis=1)
    worth = worth + (costs.planned + stop) * survival
    scale = weights(here) / (advised.length * advised.least)
    return np.asarray(scale @ worth)


def _here(laws: Laws) -> Laws:
    return Laws(laws.log_shape[:, -1:], laws.log_scale[:, -1:], laws.frailty, laws.log_weight)


def _spent_from_now(laws: Laws, past: Sequence[float], moments: FloatArray) -> FloatArray:
    """A = -log S after so many more holes of the last condition, given survival until now, shape (s, t)."""
    used = used_up(laws, past)[:, None] + moments * np.exp(-laws.log_scale[:, -1:])
    with np.errstate(divide="ignore"):
        log_hazard = np.exp(laws.log_shape[:, -1:]) * np.log(used)
    found = spent(np.exp(np.clip(log_hazard, -700.0, MOST_LOG_HAZARD)), laws.frailty[:, None])
    return np.asarray(found - found[:, :1])
