"""Should this tap be changed, and when: the one answer given on station, crib, start page, set-up card and tablet.

A tap has one age at which it is best changed, `Timing.change_at`: that of its kind, less what its past used up, and
earlier where its own slips raise the risk. Everything said about a batch follows from that age, the holes made and the
holes to come, so that words and numbers cannot contradict each other:

    at or past the age               fit a fresh tap now
    the age lies within the batch    change at the end of it, or now, if that will do; else within the batch, after
                                     exactly the hole that makes the age
    the age lies beyond the batch    carry on, for as many whole batches as fit before it; or change at the end of this
                                     one, if a fresh tap would be due before the next

The end will do where changing there loses no more than `FLAT` beyond the best of the three, judged by the loss at each
age (`LossProfile`) and by the cost of stopping within a batch, which is that of one change (the work stands still once
more). The end of the batch is preferred, as it is no trouble. `static/js/outbox/risk.js` holds the same rule;
`tests/decisions.py` holds the shared cases.

Slips raise a tap's hazard. Under one distribution it is best changed once its next hole costs as much as the last hole
of a usual tap at its age, or as a hole costs in the long run; over all draws, at the age by which half of them agree.

References: R. Barlow & L. Hunter, Optimum preventive maintenance policies, Operations Research 8 (1960) 90-100
(a change is due where the marginal cost of a further hole reaches the long-run cost).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.decision.replacement_age import FLAT, LEVELS, Costs, ReplacementPolicy, cycle
from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD
from shopfloor.core.hierarchical.prediction.draws import Draws, weights
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.vocabulary import Word

_AGES_TRIED = 128


class Action(Word):
    """What to do about a tap before a batch, most urgent first."""

    CHANGE_NOW = "change now", "Change now"
    WITHIN = "change within", "Change within next batch"
    AFTER = "change after", "Change after next batch"
    NOT_KNOWN = "not known", "Not known"
    CARRY_ON = "carry on", "Good for now"
    RUN_ON = "run on", "Run on"
    """Nothing is gained by changing it early, however likely it is to fail."""

    @property
    def is_in_next_batch(self) -> bool:
        """Whether the tap is changed within the next batch or at its end."""
        return self in (Action.WITHIN, Action.AFTER)


@dataclass(frozen=True)
class Timing:
    """When one tap is best changed, in holes on it: plain values, from which a tablet can decide, too.

    Attributes
    ----------
    change_at      holes after which it is best changed
    usual_at       the same without its own slips
    early, late    holes, going away from there, after which a change loses as much as each of `LEVELS`
    stop           loss from a stop within a batch, as a share of what a tap costs
    """

    change_at: int
    usual_at: int
    early: tuple[int, ...]
    late: tuple[int, ...]
    stop: float

    @classmethod
    def of(cls, policy: ReplacementPolicy, used: float, made: int, brought: float = 1.0) -> Timing | None:
        """When to change a tap; None where nothing is gained by changing in time.

        Parameters
        ----------
        policy     the advice for its kind
        used       holes of this kind that would have used up as much of its life
        made       holes on it
        brought    share of the advised age to which its slips bring the change forward, from `brought_forward`
        """
        if policy.age is None or policy.losses is None:
            return None
        usual, here = (max(1, math.floor(share * policy.age)) for share in (1.0, brought))
        more, losses = made - used, policy.losses
        at = math.floor(here + more)
        return cls(
            at,
            math.floor(usual + more),
            tuple(min(at, math.floor(brought * age + more)) for age in losses.early),
            tuple(max(at, math.floor(brought * age + more)) for age in losses.late),
            losses.stop,
        )

    def lost_at(self, holes: int) -> float:
        """Loss of a change after this many holes, as a share of the cost per hole; interpolated between two levels."""
        ages = self.late if holes > self.change_at else self.early
        away, before, below = abs(holes - self.change_at), 0, 0.0
        for age, level in zip(ages, LEVELS, strict=False):
            there = abs(age - self.change_at)
            if away < there or not away:
                return below + (level - below) * (away - before) / max(1, there - before)
            before, below = there, level
        return below


@dataclass(frozen=True)
class Decision:
    """What to do about one tap before a batch; every number that is said follows from these.

    Attributes
    ----------
    made         holes on the tap, None where nobody knows
    batch        holes to come
    change_at    holes at which it is best changed; for a tap of unknown holes those of its kind; None: no such age
    usual_at     the same without its own slips
    """

    action: Action
    made: int | None
    batch: int
    change_at: int | None
    usual_at: int | None

    @property
    def left(self) -> int | None:
        """Holes left until the change; 0 or below once it is due."""
        return None if self.change_at is None or self.made is None else self.change_at - self.made

    @property
    def after_hole(self) -> int | None:
        """The hole of this batch after which to change, if the change falls within it."""
        return self.left if self.action is Action.WITHIN else None

    @property
    def batches(self) -> int | None:
        """Whole batches, this one included, that the tap should make before the change."""
        if self.action is Action.AFTER:
            return 1
        return self.left // self.batch if self.action is Action.CARRY_ON and self.left is not None else None

    @property
    def past_best(self) -> int:
        """Holes by which the end of this batch lies past the best age, if the tap is changed there."""
        return max(0, self.batch - self.left) if self.action is Action.AFTER and self.left is not None else 0

    @property
    def short_of_best(self) -> int:
        """Holes left until the best age where a fresh tap is fitted now nevertheless."""
        return max(0, self.left) if self.action is Action.CHANGE_NOW and self.left is not None else 0

    @property
    def is_brought_forward(self) -> bool:
        """Whether the tap's slips bring the change forward."""
        return self.change_at is not None and self.usual_at is not None and self.change_at < self.usual_at


def decide(made: int, batch: int, timing: Timing | None) -> Decision:
    """What to do about a tap before a batch.

    Parameters
    ----------
    made       holes on it
    batch      holes to come, at least 1
    timing     when it is best changed; None where nothing is gained by changing in time

    Raises
    ------
    InputError    a batch without holes
    """
    if batch < 1:
        raise InputError.of("holes", phrase("{batch} is not a batch size", batch=batch), "give a number above 0")
    if timing is None:
        return Decision(Action.RUN_ON, made, batch, None, None)
    return Decision(_action(made, made + batch, timing), made, batch, timing.change_at, timing.usual_at)


def undecided(made: int | None, batch: int, change_at: int | None = None) -> Decision:
    """The decision for a tap about which the log cannot tell.

    Parameters
    ----------
    made         holes on it; None where nobody knows
    batch        holes to come
    change_at    age advised for its kind, where known
    """
    return Decision(Action.NOT_KNOWN, made, batch, change_at, change_at)


def _action(made: int, end: int, timing: Timing) -> Action:
    if made >= timing.change_at:
        return Action.CHANGE_NOW
    if end <= timing.change_at:
        # Else a change at the end of this batch could be announced, and the next batch be told to carry on.
        is_due_then = 2 * end - made > timing.change_at and _action(end, 2 * end - made, timing) is Action.CHANGE_NOW
        return Action.AFTER if is_due_then else Action.CARRY_ON
    now, then = timing.lost_at(made), timing.lost_at(end)
    least = min(now, then, timing.stop)
    if then - least <= FLAT:
        return Action.AFTER
    return Action.CHANGE_NOW if now - least <= FLAT else Action.WITHIN


def brought_forward(
    draws: Sequence[Draws], policy: ReplacementPolicy, costs: Costs, hazard_ratios: Sequence[float]
) -> float:
    """The share of the advised age at which to change a tap with a raised hazard, at most 1.

    Slips that are rarer than usual postpone nothing: few slips are no proof.

    Parameters
    ----------
    draws            joint draws of each mode, in the condition of the batch
    policy           the advice for its kind
    costs            of a change and of a failure by each mode
    hazard_ratios    factor on this tap's hazard of each mode
    """
    if policy.age is None or max(hazard_ratios) <= 1:
        return 1.0
    shares = np.arange(1, _AGES_TRIED + 1) / _AGES_TRIED
    each = [
        _per_hole(one, policy.age * shares) * (cost_of_failure - costs.planned)
        for one, cost_of_failure in zip(draws, costs.failure, strict=True)
    ]
    usual = np.sum(each, axis=0)[:, -1]
    due = np.maximum(usual, cycle(draws, policy.age, costs).rate)[:, None]
    is_due = np.sum([max(1.0, by) * one for by, one in zip(hazard_ratios, each, strict=True)], axis=0) >= due
    first = np.where(is_due.any(axis=1), shares[is_due.argmax(axis=1)], 1.0)
    order = np.argsort(first, kind="stable")
    return float(first[order][np.searchsorted(np.cumsum(weights(draws)[order]), 0.5)])


def _per_hole(draws: Draws, ages: FloatArray) -> FloatArray:
    """The hazard per hole at these ages, shape (s, t), in the last condition."""
    shape = np.exp(draws.log_shape[:, -1:])
    hazard = np.exp(np.minimum(shape * (np.log(ages) - draws.log_scale[:, -1:]), MOST_LOG_HAZARD))
    return np.asarray(shape / ages * hazard / (1 + draws.frailty[:, None] * hazard))
