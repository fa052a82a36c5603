"""Will this tap last the batch, when to change it, and what that saves: life statistics as the pages need them.

A group is one tap type in one material at one speed band. Its own lives make the curve that a page draws; what is
advised rests on the posterior of all groups together, and every answer says how much of it comes from other taps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from sqlalchemy.orm import Session

from shopfloor.core.decision.failure_probability import (
    chance_of_any,
    chance_of_failing,
    chances_ahead,
    equivalent_holes,
)
from shopfloor.core.decision.replacement_age import FEWEST_FAILURES, Costs, ReplacementPolicy, too_few
from shopfloor.core.decision.when_to_change import Decision, Timing, brought_forward, decide, undecided
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import NOTHING_SAID, HoleConditions
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS, SlipEvidence
from shopfloor.core.phrases import figure, phrase
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.fit import LifeResult, fit_modes, fit_weibull
from shopfloor.services.advice.estimates import LogEstimates, current
from shopfloor.services.advice.observed import Observed
from shopfloor.services.advice.policies import PolicyQuestion, costs_of
from shopfloor.services.advice.taps_now import Past, TapsNow
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import TapType

NO_EVIDENCE = Evidence(0, 0, 0.0)
NOT_YET = phrase("Estimates are being worked out")
"""Why nothing is said, until the log has been worked out for the first time."""

_Result = TypeVar("_Result")


@dataclass(frozen=True)
class GroupLife:
    """What the log tells of lives under the same conditions: both modes together, each with the other censoring."""

    lives: Lives
    both: LifeResult
    modes: dict[str, LifeResult]
    evidence: Evidence


@dataclass(frozen=True)
class ThreadDepth:
    """Depth of the holes, if lives are measured in length of thread: the usual one of the tap type, and theirs.

    `depth_mm` None: not stated, so they count as usual.
    """

    usual_mm: float
    depth_mm: float | None

    @property
    def usual_holes(self) -> float:
        """Holes of the usual depth that one of these is worth."""
        return 1.0 if self.depth_mm is None else self.depth_mm / self.usual_mm

    def length_m(self, holes: float) -> float:
        """Length of thread in so many of these holes, in m."""
        return holes * self.usual_holes * self.usual_mm / 1000


@dataclass(frozen=True)
class Advice:
    """Advice for taps under the same conditions.

    Attributes
    ----------
    evidence, breaks    what the log holds of exactly these cutting conditions
    shrinkage           share of what is known that comes from other taps, and from what was known beforehand
    failures            of all taps in the log, on which the whole rests
    change              None where the log is too thin to tell
    start               what to start with, from the prior; None for a log without a life, too
    costs               of a change in time, of a break, of a worn tap, of a stop within a batch
    hole                what the holes are like that it is for
    assumed             settings used for costs that the shop has not given
    usual_rate          mean breaks per hole, over taps that are used as advised; None where `change` is
    thread              depths, if lives are measured in length of thread; all numbers of holes are such holes
    as_of               when the estimates were worked out; None: from the log as it is now
    """

    evidence: Evidence
    breaks: int
    shrinkage: float
    failures: int
    change: ReplacementPolicy | None
    start: ReplacementPolicy | None
    costs: Costs
    hole: HoleConditions
    assumed: tuple[str, ...]
    level: float
    usual_rate: float | None
    thread: ThreadDepth | None
    as_of: datetime | None
    _condition: Condition
    _estimates: LogEstimates
    _session: Session

    @property
    def is_ready(self) -> bool:
        """Whether anything has been worked out."""
        return self._estimates.is_ready

    @property
    def change_at(self) -> int | None:
        """Holes at which to change a tap used only like this; None if nothing is gained or it is too early to tell."""
        age = None if self.change is None else self.change.age
        return None if age is None else max(1, math.floor(age))

    @property
    def saving(self) -> Estimate | None:
        """Share of the cost per hole that the suggested change saves against running to failure; may be negative."""
        if self.change is None or self.change.age is None:
            return None
        return Estimate(self.change.saving, *self.change.saving_interval, self.level)

    def failed_by(self, ages: Sequence[float]) -> list[Estimate]:
        """Probability that a fresh tap used only like this has broken or worn out by each age, in holes."""
        draws = list(self._draws(self._condition).values())
        return [chance_of_any(draws, (0.0,), age, self.level) for age in ages]

    @property
    def reason(self) -> str:
        """Why a change is suggested or not, in a sentence."""
        if not self.is_ready:
            return NOT_YET
        if self.change is not None:
            return self.change.reason
        if self.start is None or self.start.age is None:
            return too_few(self.failures)
        return phrase(
            "{too_few}. A careful start from what is usual: change at about {holes} holes",
            too_few=too_few(self.failures),
            holes=figure(f"{self.start.age:,.0f}"),
        )

    def timing(self, holes: int, past: Past, slips: SlipEvidence = NO_SLIPS) -> Timing | None:
        """When to change a tap with `holes` on it, past ones weighted by the life that they used up; None: at failure.

        Slips bring the change forward if they raise the risk noticeably.
        """
        if self.change is None:
            return None
        is_plain = self._is_plain(past)
        used = self._made(past, holes) if is_plain else equivalent_holes(*self._through(past)[Mode.BREAK])
        return Timing.of(self.change, used, holes, self._brought_forward(slips.factor) if slips.raises else 1.0)

    def decision(self, holes: int | None, next_holes: int, past: Past, slips: SlipEvidence) -> Decision:
        """What to do about a tap with `holes` on it (None: unknown) before a batch of `next_holes`."""
        if self.change is None or holes is None:
            return undecided(holes, next_holes, self.change_at)
        return decide(holes, next_holes, self.timing(holes, past, slips))

    def _brought_forward(self, factor: float) -> float:
        # Slips have been shown to predict breaks; whether they also predict wear has not been measured.
        draws = self._draws(self._condition)
        times = [factor if mode is Mode.BREAK else 1.0 for mode in draws]
        return 1.0 if self.change is None else brought_forward(list(draws.values()), self.change, self.costs, times)

    def length_made(self, holes: int | None, past: Past) -> float | None:
        """Length of thread in m that the tap has cut; None if lives are measured in holes, or it is unknown."""
        if self.thread is None or holes is None:
            return None
        return self.thread.length_m(self._made(past, holes))

    def break_risk(
        self, holes: int | None, next_holes: int, past: Past = (), slips: SlipEvidence = NO_SLIPS
    ) -> Estimate | None:
        """Probability that a tap with `holes` on it breaks in the next ones; None if that is unknown.

        `past`: what it was used on; without it, all is taken to have been made as now. `slips`: what its
        cutting slips say.
        """
        if self.change is None or holes is None:
            return None
        return chance_of_failing(
            *self._through(past, holes)[Mode.BREAK], next_holes, self.level, hazard_ratio=slips.factor
        )

    def risks_ahead(
        self,
        holes: int,
        further: Sequence[int],
        batches: Sequence[int],
        past: Past = (),
        slips: SlipEvidence = NO_SLIPS,
    ) -> list[list[Estimate]] | None:
        """Probability of a break in each batch, after each number of further holes that the tap survives."""
        if self.change is None:
            return None
        draws, made = self._through(past, holes)[Mode.BREAK]
        return chances_ahead(draws, made, further, batches, self.level, hazard_ratio=slips.factor)

    def usual_risk(self, next_holes: int) -> float | None:
        """Mean probability that such a batch breaks its tap, over taps that are used as advised."""
        return None if self.usual_rate is None else -math.expm1(-self.usual_rate * next_holes)

    def _through(self, past: Past, made: int = 0) -> dict[Mode, tuple[Draws, tuple[float, ...]]]:
        """Draws of all that a tap went through, what it does now last, and its holes in each, by mode.

        Without a past that says otherwise, all that it `made` was made as now.
        """
        if self._is_plain(past):
            return {mode: (draws, (self._made(past, made),)) for mode, draws in self._draws(self._condition).items()}
        holes = dict(past)
        here = holes.pop(self._condition, 0.0) / self._usual_holes
        joint = self._draws(*holes, self._condition)
        return {mode: (draws, (*holes.values(), here)) for mode, draws in joint.items()}

    def _draws(self, *conditions: Condition) -> dict[Mode, Draws]:
        """Draws by mode, the last condition counted in holes of this depth."""
        drawn = self._estimates.draws(self._session, conditions)
        return {mode: one.in_smaller_unit(self._usual_holes) for mode, one in drawn.items()}

    def _made(self, past: Past, holes: int) -> float:
        """Holes of this depth made by a tap used only like this; all that it made if there is no past."""
        return sum(made for _, made in past) / self._usual_holes if past else float(holes)

    @property
    def _usual_holes(self) -> float:
        """Holes of the usual depth that one of these holes counts for."""
        return 1.0 if self.thread is None else self.thread.usual_holes

    def _is_plain(self, past: Past) -> bool:
        return all(condition == self._condition for condition, _ in past)


class LifeBook:
    """All lives of the log, fitted on demand; `tap_types` limits whose curves can be asked for."""

    def __init__(self, session: Session, settings: Settings, tap_types: Sequence[int] | None = None) -> None:
        self._estimates = current(session, settings)
        self._now = TapsNow(session, self._estimates)
        self._unit = settings.drawn_in.thread
        self._tap_types = tap_types
        self._settings = settings
        self._session = session

    @classmethod
    def open(cls, work: Work, session: Session, tap_types: Sequence[int] | None = None) -> LifeBook:
        """The book of this shop."""
        return cls(session, work.settings, tap_types)

    @property
    def is_ready(self) -> bool:
        """Whether anything has been worked out; else the log is too long to do it while somebody waits."""
        return self._estimates.is_ready

    @property
    def as_of(self) -> datetime | None:
        """When the estimates were worked out; None: from the log as it is now."""
        return self._estimates.as_of

    def cutting_conditions(self) -> list[CuttingConditions]:
        """All exact conditions of which a life is known."""
        known = sorted({cutting.tap_type for cutting in self._estimates.facts.usual_holes})
        wanted = known if self._tap_types is None else dict.fromkeys(self._tap_types)
        each = (self._estimates.lives(self._session, tap_type, self._unit.mm) for tap_type in wanted)
        return [cutting for one in each for cutting in one.found if cutting.speed_band is not None]

    def unit(self, tap_type: int) -> AgeUnit:
        """Unit of a tap type's lives: length of thread, if the shop measures them so and knows the depths."""
        return AgeUnit.HOLES if self._depth(tap_type) is None else self._unit

    def observed(self, cutting: CuttingConditions) -> Observed | None:
        """The lives under exactly these conditions, or None where there is not one."""
        return self._estimates.lives(self._session, cutting.tap_type, self._unit.mm).found.get(cutting)

    def group(self, cutting: CuttingConditions) -> GroupLife | None:
        """The lives under exactly these conditions with their fits, or None where there is not one."""
        seen, level = self.observed(cutting), self._settings.level
        return (
            None
            if seen is None
            else self.once(cutting.tap_type, ("group", cutting, level), lambda: _group(seen, level))
        )

    def once(self, tap_type: int, key: Hashable, make: Callable[[], _Result]) -> _Result:
        """What follows from the lives of one tap type alone, made on first use, and again once they differ."""
        return self._estimates.lives(self._session, tap_type, self._unit.mm).kept.once(key, make)

    def read(self, taps: Collection[int]) -> None:
        """Read what these taps were used on in one go, rather than tap after tap when asked."""
        self._now.read(taps)

    def past(self, tap: int, number: int) -> Past:
        """What a life was spent on so far."""
        return self._now.past(tap, number)

    def slips(self, tap: int, number: int) -> SlipEvidence:
        """What the recent cutting slips of a life say about its next holes."""
        return self._now.slips(tap, number) if self._estimates.facts.failures >= FEWEST_FAILURES else NO_SLIPS

    def advice(
        self,
        cutting: CuttingConditions,
        hole: HoleConditions | None = None,
        *,
        is_reground: bool = False,
    ) -> Advice:
        """Advice for a tap under these conditions, borrowing from others where the log is thin.

        `hole` None: like most holes cut under these conditions. If the depth of thread is not stated, it is taken
        to be the usual depth of the tap type.
        """
        price = self._price(cutting.tap_type)
        estimates, session, settings = self._estimates, self._session, self._settings
        costs, facts = costs_of(settings, price), estimates.facts
        evidence, breaks = estimates.evidence(session, cutting, self._unit.mm) or (NO_EVIDENCE, 0)
        hole = facts.usual_holes.get(cutting, NOTHING_SAID) if hole is None else hole
        condition = self._now.condition(cutting, hole, is_reground=is_reground)
        usual, is_enough = self._depth(cutting.tap_type), facts.failures >= FEWEST_FAILURES
        thread = None if usual is None else ThreadDepth(usual, hole.depth_mm)
        usual_holes = 1.0 if thread is None else thread.usual_holes
        advised = estimates.advised(session, PolicyQuestion(condition, costs, settings.level, usual_holes))
        change = None if advised is None else advised.policy
        return Advice(
            evidence=evidence,
            breaks=breaks,
            shrinkage=estimates.shrinkage(session, condition),
            failures=facts.failures,
            change=change if is_enough else None,
            start=None if is_enough else change,
            costs=costs,
            hole=hole,
            assumed=(*(("default_tap_cost",) if price is None else ()), *settings.assumed_costs),
            level=settings.level,
            usual_rate=advised.break_rate if advised is not None and is_enough else None,
            thread=thread,
            as_of=estimates.as_of,
            _condition=condition,
            _estimates=estimates,
            _session=session,
        )

    def _depth(self, tap_type: int) -> float | None:
        """Usual depth of thread of the type in mm, if lives are measured in length of thread and it is known."""
        return self._estimates.facts.usual_depths.get(tap_type)

    def _price(self, tap_type: int) -> float | None:
        kind = self._session.get(TapType, tap_type)
        return None if kind is None or kind.unit_cost is None else float(kind.unit_cost)


def _group(seen: Observed, level: float) -> GroupLife:
    modes = fit_modes(seen.lives, level, modes=[mode.value for mode in Mode])
    return GroupLife(seen.lives, fit_weibull(seen.lives, level), modes, seen.evidence)


def ending_in(lives: Lives, mode: Mode | None) -> Lives:
    """The lives with respect to one mode, the other one censoring; None: both."""
    return lives if mode is None else lives.of_mode(mode.value)
