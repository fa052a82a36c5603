"""Failed gauge checks: which there are, and everything in the log about some of those taps, as values."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.suspect_runs import EventKind, Moment
from shopfloor.core.vocabulary import Cause, GaugeResult, MovementKind, TapEnd
from shopfloor.store import (
    GaugeCheck,
    GaugeFailure,
    GaugeIncident,
    Job,
    Material,
    Person,
    Run,
    Station,
    StockMovement,
    Tap,
    TapType,
)
from shopfloor.store.queries.log import counts

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


@dataclass(frozen=True)
class OpenedIncident:
    """A failed check that opened an incident, and the cause that was told last; None: nobody told any."""

    check: uuid.UUID
    at: datetime
    tap: int
    cause: Cause | None


def opened_incidents(session: Session, since: datetime | None) -> list[OpenedIncident]:
    """Every failed check since then (None: ever) that opened an incident, the newest first."""
    told = (
        select(GaugeFailure.opened_by, GaugeIncident.cause)
        .join(GaugeIncident, GaugeIncident.check_id == GaugeFailure.check_id)
        .where(counts(GaugeIncident))
        .order_by(GaugeIncident.recorded_at)
    )
    causes = {row.opened_by: row.cause for row in session.execute(told)}
    columns = select(GaugeFailure.check_id, GaugeFailure.failed_at, GaugeFailure.tap_id)
    query = columns.where(*_opened(since)).order_by(GaugeFailure.failed_at.desc())
    return [OpenedIncident(check, at, tap, causes.get(check)) for check, at, tap in session.execute(query)]


def last_opened(
    session: Session, since: datetime | None, tap_type: str | None, most: int
) -> tuple[int, dict[uuid.UUID, int]]:
    """Number of incidents that failed checks opened since then, of a tap type or all; the newest with their taps."""
    which = _opened(since)
    if tap_type is not None:
        which.append(GaugeFailure.tap_id.in_(select(Tap.id).join(Tap.tap_type).where(TapType.code == tap_type)))
    number = session.scalar(select(func.count()).select_from(GaugeFailure).where(*which)) or 0
    newest = select(GaugeFailure.check_id, GaugeFailure.tap_id).where(*which)
    rows = session.execute(newest.order_by(GaugeFailure.failed_at.desc()).limit(most))
    return number, {row.check_id: row.tap_id for row in rows}


def _opened(since: datetime | None) -> list[ColumnElement[bool]]:
    opened = GaugeFailure.opened_by == GaugeFailure.check_id
    return [opened] if since is None else [opened, GaugeFailure.failed_at >= since]


def failed_taps(session: Session, taps: Collection[int]) -> list[int]:
    """Those of the taps that have a failed check that counts."""
    failed = select(GaugeCheck.tap_id).where(GaugeCheck.result == GaugeResult.FAILED, counts(GaugeCheck)).distinct()
    return list(session.scalars(failed.where(GaugeCheck.tap_id.in_(taps))))


def checked_taps(session: Session, taps: Collection[int]) -> dict[int, CheckedTap]:
    """These taps, by key."""
    query = select(Tap.id, Tap.code, TapType.code, Tap.holes_before).join(TapType, TapType.id == Tap.tap_type_id)
    return {row.id: CheckedTap(*row) for row in session.execute(query.where(Tap.id.in_(taps)))}


def moments_by_tap(session: Session, taps: Collection[int]) -> Mapping[int, list[Moment]]:
    """Runs, gauge checks and regrinds of each of the taps that count."""
    found: defaultdict[int, list[Moment]] = defaultdict(list)
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
    return found


def suspect_runs(session: Session, taps: Collection[int]) -> dict[uuid.UUID, SuspectRun]:
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
        .where(Run.tap_id.in_(taps), counts(Run))
    )
    return {row.id: SuspectRun(*row) for row in session.execute(query)}


def read_checks(session: Session, taps: Collection[int]) -> dict[uuid.UUID, ReadCheck]:
    """Every failed check of the taps that counts, by its id."""
    query = select(GaugeCheck.id, Person.name, GaugeCheck.note).outerjoin(Person, Person.id == GaugeCheck.person_id)
    failed = query.where(GaugeCheck.tap_id.in_(taps), GaugeCheck.result == GaugeResult.FAILED, counts(GaugeCheck))
    return {row.id: ReadCheck(*row) for row in session.execute(failed)}


def first_ids(session: Session, taps: Collection[int]) -> dict[uuid.UUID, uuid.UUID]:
    """The first id of every gauge check of the taps, by the id of each of its versions."""
    query = select(GaugeCheck.id, GaugeCheck.supersedes_id).where(GaugeCheck.tap_id.in_(taps))
    earlier = {row.id: row.supersedes_id for row in session.execute(query)}
    return {id_: _first(id_, earlier) for id_ in earlier}


def _first(id_: uuid.UUID, earlier: Mapping[uuid.UUID, uuid.UUID | None]) -> uuid.UUID:
    while (before := earlier[id_]) is not None:
        id_ = before
    return id_
