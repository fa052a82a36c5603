"""Failed gauge checks, with everything in the log about those taps since they last cut well, as values."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.floor.suspect_runs import EventKind, Moment
from shopfloor.core.vocabulary import GaugeResult, MovementKind, TapEnd
from shopfloor.store import GaugeCheck, Job, Material, Person, Run, Station, StockMovement, Tap, TapType
from shopfloor.store.queries.log import counts

_TAPS_AT_ONCE = 500
_KIND_OF_CHECK = {GaugeResult.PASSED: EventKind.PASSED, GaugeResult.FAILED: EventKind.FAILED}


@dataclass(frozen=True)
class CheckedTap:
    """A tap with a failed check. `holes_before` is as received: None if unknown."""

    id: int
    code: str
    tap_type: str
    holes_before: int | None


@dataclass(frozen=True)
class SuspectRun:
    """A run, for whoever has to find its parts; `holes` are those that the tap made."""

    id: uuid.UUID
    ended_at: datetime
    station: str | None
    station_name: str | None
    job: str | None
    part: str | None
    holes_per_part: int | None
    material: str
    person: str | None
    holes: int
    tap_end: TapEnd

    @property
    def parts(self) -> int | None:
        """How many parts may have these holes; None if no job says."""
        return None if self.holes_per_part is None else -(-self.holes // self.holes_per_part)


@dataclass(frozen=True)
class ReadCheck:
    """A gauge check that counts: who made it and what was noted."""

    id: uuid.UUID
    person: str | None
    note: str | None


def taps_that_failed(session: Session) -> list[CheckedTap]:
    """Taps with a failed check that counts."""
    failed = select(GaugeCheck.tap_id).where(GaugeCheck.result == GaugeResult.FAILED, counts(GaugeCheck))
    query = select(Tap.id, Tap.code, TapType.code, Tap.holes_before).join(TapType, TapType.id == Tap.tap_type_id)
    return [CheckedTap(*row) for row in session.execute(query.where(Tap.id.in_(failed)).order_by(Tap.id))]


def moments_by_tap(session: Session, tap_ids: Collection[int]) -> Mapping[int, list[Moment]]:
    """Runs, gauge checks and regrinds of each of the taps that count."""
    found: defaultdict[int, list[Moment]] = defaultdict(list)
    ids = sorted(tap_ids)
    for start in range(0, len(ids), _TAPS_AT_ONCE):
        _add_moments(session, ids[start : start + _TAPS_AT_ONCE], found)
    return found


def _add_moments(session: Session, taps: Collection[int], found: defaultdict[int, list[Moment]]) -> None:
    runs = select(Run.tap_id, Run.ended_at, Run.id, Run.position).where(Run.tap_id.in_(taps), counts(Run))
    for tap, at, id_, position in session.execute(runs):
        found[tap].append(Moment(at, EventKind.RUN, id_, position))
    checks = select(GaugeCheck.tap_id, GaugeCheck.checked_at, GaugeCheck.result, GaugeCheck.id)
    checks = checks.where(GaugeCheck.tap_id.in_(taps), counts(GaugeCheck)).order_by(GaugeCheck.recorded_at)
    for place, (tap, at, result, id_) in enumerate(session.execute(checks)):
        found[tap].append(Moment(at, _KIND_OF_CHECK[result], id_, place))
    regrinds = select(StockMovement.tap_id, StockMovement.moved_at, StockMovement.id).where(
        StockMovement.tap_id.in_(taps), StockMovement.kind == MovementKind.REGROUND, counts(StockMovement)
    )
    for moved, at, id_ in session.execute(regrinds):
        if moved is not None:
            found[moved].append(Moment(at, EventKind.REGROUND, id_))


def suspect_runs(session: Session, tap_ids: Collection[int]) -> dict[uuid.UUID, SuspectRun]:
    """Every run of the taps that counts, by its id."""
    columns: list[Any] = [
        Run.id, Run.ended_at, Station.code, Station.name, Job.code, Job.part, Job.holes_per_part, Material.name,
        Person.name, Run.holes_made, Run.tap_end,
    ]  # fmt: skip
    query = (
        select(*columns)
        .join(Material, Material.id == Run.material_id)
        .outerjoin(Station, Station.id == Run.station_id)
        .outerjoin(Job, Job.id == Run.job_id)
        .outerjoin(Person, Person.id == Run.person_id)
    )
    found = {}
    ids = sorted(tap_ids)
    for start in range(0, len(ids), _TAPS_AT_ONCE):
        some = query.where(Run.tap_id.in_(ids[start : start + _TAPS_AT_ONCE]), counts(Run))
        for row in session.execute(some):
            found[row.id] = SuspectRun(*row)
    return found


def read_checks(session: Session) -> dict[uuid.UUID, ReadCheck]:
    """Every failed check that counts, by its id."""
    query = select(GaugeCheck.id, Person.name, GaugeCheck.note).outerjoin(Person, Person.id == GaugeCheck.person_id)
    failed = query.where(GaugeCheck.result == GaugeResult.FAILED, counts(GaugeCheck))
    return {row.id: ReadCheck(*row) for row in session.execute(failed)}


def first_ids(session: Session) -> dict[uuid.UUID, uuid.UUID]:
    """The first id of every gauge check, by the id of each of its versions."""
    earlier = {row.id: row.supersedes_id for row in session.execute(select(GaugeCheck.id, GaugeCheck.supersedes_id))}
    return {id_: _first(id_, earlier) for id_ in earlier}


def _first(id_: uuid.UUID, earlier: Mapping[uuid.UUID, uuid.UUID | None]) -> uuid.UUID:
    while (before := earlier[id_]) is not None:
        id_ = before
    return id_
