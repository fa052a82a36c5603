"""Will this tap last the next holes: risk, suggested change and the evidence for both, as plain values."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from sqlalchemy.orm import Session

from shopfloor.core.decision.when_to_change import Decision, Timing
from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS, SlipEvidence
from shopfloor.core.survival.censored_data import Evidence
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.vocabulary import Lubricant
from shopfloor.services.advice.life_book import Advice, LifeBook
from shopfloor.services.advice.taps_now import Past
from shopfloor.services.record.work import Work
from shopfloor.store import Job, TapLife, TapType
from shopfloor.store.queries.log import cutting_conditions


@dataclass(frozen=True)
class ThreadLength:
    """A tap's life in length of thread, if the shop measures it so: m cut so far and at the suggested change.

    `is_usual`: the depth of the job's holes is not on record, so `depth_mm`, usual for the tap type, is assumed.
    """

    made_m: float | None
    change_at_m: float | None
    depth_mm: float
    is_usual: bool


@dataclass(frozen=True)
class Outlook:
    """What the log says about a tap before its next holes.

    `risk` None: nothing can be said. `decision` says whether and when to change it, `reason` why or why not.
    `evidence`, of which `breaks` broke, is of taps used just so; `shrinkage` is the share of what is known that comes
    from others. `saving` is what a change in time saves; `usual_risk` that of such a batch on the mean over taps that
    are used as suggested; `length` is told where the shop counts lives so; `slips` are those of the tap's last holes,
    which `risk` and `decision` take into account. `as_of` tells when the estimates were worked out; None: from the log
    as it is now. `is_ready` False: they have not been yet.
    """

    decision: Decision
    risk: Estimate | None
    reason: str
    evidence: Evidence
    breaks: int
    shrinkage: float
    saving: Estimate | None = None
    length: ThreadLength | None = None
    usual_risk: float | None = None
    slips: SlipEvidence = NO_SLIPS
    as_of: datetime | None = None
    is_ready: bool = True

    @property
    def next_holes(self) -> int:
        """Holes of the batch that it is for."""
        return self.decision.batch


def length_of(advice: Advice, holes: int | None, change_at: int | None, past: Past) -> ThreadLength | None:
    """The tap's life in length of thread; None if the shop counts holes, or no job says how deep such taps cut."""
    thread, made = advice.thread, advice.length_made(holes, past)
    if thread is None:
        return None
    at_change = None if change_at is None else (made or 0.0) + thread.length_m(change_at - (holes or 0))
    return ThreadLength(made, at_change, thread.depth_mm or thread.usual_mm, is_usual=thread.depth_mm is None)


def outlook_of(advice: Advice, holes: int | None, next_holes: int, past: Past, slips: SlipEvidence) -> Outlook:
    """What the advice says about a tap with `holes` on it (None: unknown) before a batch of `next_holes`."""
    decision = advice.decision(holes, next_holes, past, slips)
    return Outlook(
        decision=decision,
        risk=advice.break_risk(holes, next_holes, past, slips),
        reason=advice.reason,
        evidence=advice.evidence,
        breaks=advice.breaks,
        shrinkage=advice.shrinkage,
        saving=advice.saving,
        length=length_of(advice, holes, decision.change_at, past),
        usual_risk=advice.usual_risk(next_holes),
        slips=slips,
        as_of=advice.as_of,
        is_ready=advice.is_ready,
    )


@dataclass(frozen=True)
class Ahead:
    """What is said about a tap after some further holes: when to change it, its risk in batches, and the usual rate.

    `timing` None: no change in time is suggested. `usual_rate`: breaks per hole; `slips` are those until now.
    """

    timing: Timing | None
    level: float
    usual_rate: float | None
    risks: Sequence[Sequence[Estimate]]
    slips: SlipEvidence


class OutlookBook:
    """Outlooks of taps of these types in one job's holes at one speed; the log is read on first use."""

    def __init__(
        self,
        work: Work,
        session: Session,
        kinds: Sequence[TapType],
        job: Job,
        rpm: int | None,
        lubricant: Lubricant | None,
        next_holes: int,
        lives: LifeBook | None = None,
    ) -> None:
        self._work = work
        self._open = lives
        self._session = session
        self._kinds = [kind.id for kind in kinds]
        self._material = job.material_id
        self._hole = job.hole_conditions(lubricant)
        self._rpm = rpm
        self._next_holes = next_holes
        self._advice: dict[tuple[int, bool], Advice] = {}

    @cached_property
    def _lives(self) -> LifeBook:
        return self._open or LifeBook.open(self._work, self._session, self._kinds)

    def read(self, taps: Collection[int]) -> None:
        """Read what these taps were used on in one go, rather than tap after tap when asked."""
        self._lives.read(taps)

    def outlook(self, kind: TapType, holes: int | None, life: TapLife | None = None) -> Outlook:
        """The outlook of a tap of this type with `holes` on it (None: unknown), in its `life`, if it has begun."""
        advice = self._advice_on(kind, is_reground=life is not None and life.number > 0)
        past = () if life is None else self._lives.past(life.tap_id, life.number)
        slips = NO_SLIPS if life is None else self._lives.slips(life.tap_id, life.number)
        return outlook_of(advice, holes, self._next_holes, past, slips)

    def ahead(
        self, kind: TapType, holes: int, life: TapLife, further: Sequence[int], batches: Sequence[int]
    ) -> Ahead | None:
        """What will be said about a tap with `holes` on it after `further` ones; None if nothing can be said."""
        advice = self._advice_on(kind, is_reground=life.number > 0)
        past = self._lives.past(life.tap_id, life.number)
        slips = self._lives.slips(life.tap_id, life.number)
        risks = advice.risks_ahead(holes, further, batches, past, slips)
        if risks is None:
            return None
        return Ahead(advice.timing(holes, past, slips), advice.level, advice.usual_rate, risks, slips)

    def _advice_on(self, kind: TapType, *, is_reground: bool) -> Advice:
        if (kind.id, is_reground) not in self._advice:
            cutting = cutting_conditions(kind.id, kind.thread, self._material, self._rpm)
            self._advice[kind.id, is_reground] = self._lives.advice(cutting, self._hole, is_reground=is_reground)
        return self._advice[kind.id, is_reground]
