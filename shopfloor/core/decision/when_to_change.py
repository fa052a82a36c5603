"""Should this tap be changed, and when: the one answer that station, crib, start page and tablet give.

A tap has one age at which it is best changed, `Timing.change_at`, that of its kind, counted for what it went through
and brought forward where its own slips speak against it. All that is said of a batch follows from that age, the holes
made and the holes to come, so that words and numbers cannot contradict each other:

    at or past the age               fit a fresh tap now
    the age lies within the batch    change at the end of it, or now, where that will do; else within the batch, after
                                     exactly the hole that makes the age
    the age lies beyond the batch    carry on, for as many whole batches as fit before it; or change at the end of this
                                     one, if a fresh tap would be due before the next

An end will do where changing there loses no more than `FLAT` beyond the best of the three, as what is lost by the age
of a change (`Near`), and by the stop of a batch, tells; the end of the batch is preferred, as it is no trouble.

Slips raise a tap's hazard. Under one law it is best changed once its next hole costs as much as the last hole of a
usual tap at its age, or as a hole costs in the long run; over all laws the age by which half of them say so.

References: R. Barlow & L. Hunter, Optimum preventive maintenance policies, Operations Research 8 (1960) 90-100
(a change is due where the cost of a further hole reaches that of the long run).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.decision.replacement_age import FLAT, LEVELS, Change, Costs, cycle
from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD
from shopfloor.core.hierarchical.prediction.draws import Laws, weights
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.vocabulary import Word

_AGES_TRIED = 128


class Deed(Word):
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
        return self in (Deed.WITHIN, Deed.AFTER)


@dataclass(frozen=True)
class Timing:
    """When one tap is best changed, in holes on it: plain values, from which a tablet can decide, too.

    Attributes
    ----------
    change_at      holes after which it is best changed
    usual_at       the same if its slips were as usual
    early, late    holes, away from there, after which a change loses as much as each of `LEVELS`
    stop           what a stop within a batch loses
    """

    change_at: int
    usual_at: int
    early: tuple[int, ...]
    late: tuple[int, ...]
    stop: float

    @classmethod
    def of(cls, change: Change, used: float, made: int, brought: float = 1.0) -> Timing | None:
        """When to change a tap; None where nothing is gained by changing in time.

        Parameters
        ----------
        change     the advice for its kind
        used       holes of this kind that would have used up as much of it
        made       holes on it
        brought    to which share of the age its slips bring the change forward, as `brought_forward`
        """
        if change.age is None or change.near is None:
            return None
        usual, here = (max(1, math.floor(share * change.age)) for share in (1.0, brought))
        more, near = made - used, change.near
        at = math.floor(here + more)
        return cls(
            at,
            math.floor(usual + more),
            tuple(min(at, math.floor(brought * age + more)) for age in near.early),
            tuple(max(at, math.floor(brought * age + more)) for age in near.late),
            near.stop,
        )

    def lost_at(self, holes: int) -> float:
        """What a change after so many holes loses, as a share of the cost per hole: even between two levels."""
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
    change_at    holes at which it is best changed, for a tap of unknown holes those of its kind; None: no such age
    usual_at     the same if its slips were as usual
    """

    deed: Deed
    made: int | None
    batch: int
    change_at: int | None
    usual_at: int | None

    @property
    def left(self) -> int | None:
        """Holes left to the change, 0 or below once it is due."""
        return None if self.change_at is None or self.made is None else self.change_at - self.made

    @property
    def after_hole(self) -> int | None:
        """The hole of this batch after which to change, where it is to be changed within it."""
        return self.left if self.deed is Deed.WITHIN else None

    @property
    def batches(self) -> int | None:
        """Whole batches, this one included, that the tap should make before the change."""
        if self.deed is Deed.AFTER:
            return 1
        return self.left // self.batch if self.deed is Deed.CARRY_ON and self.left is not None else None

    @property
    def past_best(self) -> int:
        """By how many holes the end of this batch, where it is to be changed, lies past the best age."""
        return max(0, self.batch - self.left) if self.deed is Deed.AFTER and self.left is not None else 0

    @property
    def short_of_best(self) -> int:
        """How many holes are left to the best age where a fresh tap is fitted now all the same."""
        return max(0, self.left) if self.deed is Deed.CHANGE_NOW and self.left is not None else 0

    @property
    def is_brought_forward(self) -> bool:
        """Whether the tap's slips bring the change forward."""
        return self.change_at is not None and self.usual_at is not None and self.change_at < self.usual_at


def decide(made: int, batch: int, timing: Timing | None) -> Decision:
    """What to do about a tap with so many holes on it before a batch of so many.

    Parameters
    ----------
    timing    when it is best changed; None where nothing is gained by changing in time

    Raises
    ------
    InputError    a batch of no hole
    """
    if batch < 1:
        raise InputError.of("holes", phrase("{batch} is no batch", batch=batch), "give a number above 0")
    if timing is None:
        return Decision(Deed.RUN_ON, made, batch, None, None)
    return Decision(_deed(made, made + batch, timing), made, batch, timing.change_at, timing.usual_at)


def undecided(made: int | None, batch: int, change_at: int | None = None) -> Decision:
    """Of a tap of which the log cannot tell; `change_at` of its kind, where that is known."""
    return Decision(Deed.NOT_KNOWN, made, batch, change_at, change_at)


def _deed(made: int, end: int, timing: Timing) -> Deed:
    if made >= timing.change_at:
        return Deed.CHANGE_NOW
    if end <= timing.change_at:
        # Else the next batch would be said to carry on, after a change was foretold for the end of this one.
        is_due_then = 2 * end - made > timing.change_at and _deed(end, 2 * end - made, timing) is Deed.CHANGE_NOW
        return Deed.AFTER if is_due_then else Deed.CARRY_ON
    now, then = timing.lost_at(made), timing.lost_at(end)
    least = min(now, then, timing.stop)
    if then - least <= FLAT:
        return Deed.AFTER
    return Deed.CHANGE_NOW if now - least <= FLAT else Deed.WITHIN


def brought_forward(laws: Sequence[Laws], change: Change, costs: Costs, times: Sequence[float]) -> float:
    """The share of the advised age at which to change a tap whose hazard is taken times this; 1 at most.

    Slips that are better than usual put nothing off: few slips are no proof.

    Parameters
    ----------
    laws     joint draws for each mode in the condition of the batch
    times    what this tap's hazard of each mode is taken times
    """
    if change.age is None or max(times) <= 1:
        return 1.0
    shares = np.arange(1, _AGES_TRIED + 1) / _AGES_TRIED
    each = [
        _per_hole(one, change.age * shares) * (price - costs.planned)
        for one, price in zip(laws, costs.failure, strict=True)
    ]
    usual = np.sum(each, axis=0)[:, -1]
    due = np.maximum(usual, cycle(laws, change.age, costs).rate)[:, None]
    is_due = np.sum([max(1.0, by) * one for by, one in zip(times, each, strict=True)], axis=0) >= due
    first = np.where(is_due.any(axis=1), shares[is_due.argmax(axis=1)], 1.0)
    order = np.argsort(first, kind="stable")
    return float(first[order][np.searchsorted(np.cumsum(weights(laws)[order]), 0.5)])


def _per_hole(laws: Laws, ages: FloatArray) -> FloatArray:
    """The hazard of a hole at these ages, shape (s, t), in the last condition."""
    shape = np.exp(laws.log_shape[:, -1:])
    hazard = np.exp(np.minimum(shape * (np.log(ages) - laws.log_scale[:, -1:]), MOST_LOG_HAZARD))
    return np.asarray(shape / ages * hazard / (1 + laws.frailty[:, None] * hazard))
