"""The latest entries of a station, including old versions; correcting and cancelling them with a reason."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import NotFound
from shopfloor.core.input.signature import read_reason
from shopfloor.core.input.station_entry import read_correction
from shopfloor.core.vocabulary import Cause, DepthControl, Lubricant, PartFate, TapEnd
from shopfloor.services.record import revisions
from shopfloor.services.record.revisions import STANDS, Change, Standing, fates
from shopfloor.services.record.work import Work
from shopfloor.services.runs.batch_size import as_made
from shopfloor.services.runs.runs import StoredRun, cancel_run, correct_run
from shopfloor.services.runs.usual_sizes import confirmed_in
from shopfloor.services.station.choices import station_row
from shopfloor.services.station.page import limits_at_station
from shopfloor.store import Incident, Job, Person, Run, Station, Tap, TapLife
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.photographs import photographs_that_count

DAYS_SHOWN = 7
MOST_SHOWN = 60


@dataclass(frozen=True)
class LogEntry:
    """One stored run as a person reads it; `change` says what became of it if it no longer counts."""

    id: uuid.UUID
    batch_id: uuid.UUID | None
    ended_at: datetime
    recorded_at: datetime
    station: str | None
    person: str | None
    person_code: str | None
    job: str | None
    tap: str
    rpm: int
    holes: int
    cutting_slips: int | None
    tap_end: TapEnd
    broke_at_hole: int | None
    part_fate: PartFate | None
    cause: Cause | None
    depth_control: DepthControl | None
    lubricant: Lubricant | None
    note: str | None
    photographs: int
    is_correction: bool
    standing: Standing
    change: Change | None
    can_undo: bool


@dataclass(frozen=True)
class SavedNotice:
    """The notice after saving: the entry, and the tap's holes including it."""

    entry: LogEntry
    holes_on_tap: int


@dataclass(frozen=True)
class SentRun:
    """A stored run, as the tablet that sent it goes on from it."""

    id: uuid.UUID
    batch_id: uuid.UUID
    tap_end: TapEnd


def last_entries(work: Work, station: str) -> tuple[LogEntry, ...]:
    """Entries of the last days at a station, newest first; if there are none, the newest of all.

    Raises
    ------
    NotFound    no such station
    """
    with work.read() as session:
        place = station_row(session, station)
        query = select(Run).where(Run.station_id == place.id).order_by(Run.ended_at.desc(), Run.recorded_at.desc())
        runs = session.scalars(query.limit(MOST_SHOWN)).all()
        since = work.clock() - timedelta(days=DAYS_SHOWN)
        recent = [run for run in runs if run.ended_at >= since] or runs[:MOST_SHOWN]
        return tuple(_entry(session, work, run) for run in recent)


def entry_of(work: Work, run_id: uuid.UUID) -> LogEntry:
    """One entry.

    Raises
    ------
    NotFound    no such run
    """
    with work.read() as session:
        return _entry(session, work, revisions.entry_of(session, Run, run_id))


def sent_run(work: Work, run_id: uuid.UUID, station: str) -> SentRun:
    """A run of the station, in one statement.

    Raises
    ------
    NotFound    no such run at this station
    """
    columns = (Run.id, func.coalesce(Run.batch_id, Run.id), Run.tap_end)
    query = (
        select(*columns).join(Station, Station.id == Run.station_id).where(Run.id == run_id, Station.code == station)
    )
    with work.read() as session:
        found = session.execute(query).one_or_none()
    if found is None:
        raise NotFound(f"no run {run_id} at {station}")
    return SentRun(*found)


def notice_of(work: Work, run_id: uuid.UUID) -> SavedNotice:
    """The entry and the tap's holes; raises NotFound."""
    with work.read() as session:
        run = revisions.entry_of(session, Run, run_id)
        holes = select(TapLife.holes).where(TapLife.tap_id == run.tap_id, TapLife.is_present)
        return SavedNotice(_entry(session, work, run), session.scalar(holes) or 0)


def correct(work: Work, run_id: uuid.UUID, raw: Mapping[str, object], by: str, sure: str = "") -> StoredRun:
    """Correct an entry; the time of the work and its batch stay. `raw` also holds 'reason'.

    `sure` says which odd numbers were confirmed, in the form of `ask_back`.

    Raises
    ------
    NotFound                no such run
    InputError, Conflict    as read_correction and correct_run raise them; nothing is stored then
    Doubtful                a number has to be confirmed first; nothing is stored then
    """
    with work.read() as session:
        old = revisions.entry_of(session, Run, run_id)
        ended_at, batch_id, slips = old.ended_at, old.batch_id, (old.holes, old.cutting_slips, old.slip_holes)
    entered, reason = read_correction(raw, limits_at_station(work))
    entry = as_made(entered)
    # The slips' hole numbers remain valid as long as the counts do.
    is_counted = slips[2] is not None and slips[:2] == (entry.holes, entry.cutting_slips)
    slip_holes = tuple(map(int, slips[2].split())) if is_counted and slips[2] else ()
    entry = replace(entry, ended_at=ended_at, batch_id=batch_id, slip_holes=slip_holes)
    return correct_run(work, run_id, confirmed_in(work, entry, None, sure, corrects=run_id), reason, by)


def cancel(work: Work, run_id: uuid.UUID, raw: Mapping[str, object], by: str) -> None:
    """Cancel an entry, for the 'reason' in `raw`.

    Raises
    ------
    NotFound                no such run
    InputError, Conflict    no reason; the entry was corrected in the meantime
    """
    cancel_run(work, run_id, read_reason(raw), by)


def _photographs(session: Session, run: Run) -> int:
    if run.tap_end is not TapEnd.BROKEN:
        return 0
    return session.scalar(select(photographs_that_count(run.original_id))) or 0


def _entry(session: Session, work: Work, run: Run) -> LogEntry:
    standing, change = fates(session, Run, {run.id}).get(run.id, STANDS)
    person = session.get(Person, run.person_id) if run.person_id else None
    station = session.get(Station, run.station_id) if run.station_id else None
    job = session.get(Job, run.job_id) if run.job_id else None
    undo_until = run.recorded_at + timedelta(minutes=work.settings.undo_minutes)
    return LogEntry(
        id=run.id,
        batch_id=run.batch_id,
        ended_at=run.ended_at,
        recorded_at=run.recorded_at,
        station=station.code if station else None,
        person=person.name if person else None,
        person_code=person.code if person else None,
        job=job.code if job else None,
        tap=session.get_one(Tap, run.tap_id).code,
        rpm=run.rpm,
        holes=run.holes,
        cutting_slips=run.cutting_slips,
        tap_end=run.tap_end,
        broke_at_hole=run.broke_at_hole,
        part_fate=run.part_fate,
        cause=session.scalar(select(Incident.cause).where(Incident.run_id == run.original_id, counts(Incident))),
        depth_control=run.depth_control,
        lubricant=run.lubricant,
        note=run.note,
        photographs=_photographs(session, run),
        is_correction=run.supersedes_id is not None,
        standing=standing,
        change=change,
        can_undo=standing is Standing.SAVED and run.supersedes_id is None and work.clock() <= undo_until,
    )
