"""Log, correct, cancel and undo a run. Each is one transaction that also updates the summaries."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import Any

from sqlalchemy import literal, select
from sqlalchemy.orm import Session, lazyload

from shopfloor.core.errors import Conflict, InputError, Problem
from shopfloor.core.floor.cutting import spindle_speeds
from shopfloor.core.input.reader import is_writable
from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.input.stored_phrases import UNDONE
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Cause, TapEnd
from shopfloor.services.ledger.implied_issues import book_taken
from shopfloor.services.record.codes import Finder, find_in, look_up
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.revisions import (
    cancel_row,
    entry_of,
    is_cancelled,
    person_of,
    reason_of,
    repeated_correction,
    signed,
)
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Incident, Job, Material, Person, Run, Station, Tap
from shopfloor.store.engine import hold
from shopfloor.store.queries.log import counts


@dataclass(frozen=True)
class StoredRun:
    """A stored run, and whether this call stored it (False: it was already there)."""

    run_id: uuid.UUID
    is_new: bool


@tried_again
def log_run(work: Work, entry: RunEntry) -> StoredRun:
    """Store a run once, however often it is sent.

    Raises
    ------
    InputError    unknown codes, a speed outside the station's range
    Conflict      another run is stored under this id, or the tap's life was over
    """
    with work.write() as session:
        stored, find = _read_together(session, entry)
        values = resolve(session, entry, find)
        if stored is not None:
            same_run(stored, entry, values)
            return StoredRun(stored.id, is_new=False)
        hold(session, Tap, {values["tap_id"]})
        _store(session, work, entry, values)
        return StoredRun(entry.id, is_new=True)


@tried_again
def correct_run(work: Work, run_id: uuid.UUID, entry: RunEntry, reason: str, by: str) -> StoredRun:
    """Supersede a run with a corrected one under a new id; the old row stays readable.

    Raises
    ------
    NotFound      no such run
    Conflict      the run was corrected or cancelled in the meantime, or the tap's log would contradict itself
    InputError    no reason, unknown codes
    """
    with work.write() as session:
        old, values = entry_of(session, Run, run_id), resolve(session, entry)
        hold(session, Tap, {old.tap_id, values["tap_id"]})
        stored = repeated_correction(session, old, entry.id, remedy=phrase("send the correction under a new id"))
        if stored is not None:
            same_run(stored, entry, values)
            return StoredRun(stored.id, is_new=False)
        _store(
            session,
            work,
            entry,
            values,
            original_id=old.original_id,
            supersedes_id=old.id,
            position=old.position,
            **signed(session, work, reason, by),
        )
        book_taken(session, work, {old.tap_id}, person_of(session, by).id)
        refresh(session, {old.tap_id})
    return StoredRun(entry.id, is_new=True)


def cancel_run(work: Work, run_id: uuid.UUID, reason: str, by: str) -> None:
    """Cancel a run; the row and the reason are kept. Cancelling twice changes nothing.

    Raises
    ------
    NotFound      no such run
    Conflict      the run was corrected: cancel the correction instead
    InputError    no reason
    """
    with work.write() as session:
        run = _run_to_end(session, run_id)
        if run is not None:
            _cancel(session, work, run, reason_of(reason), person_of(session, by).id)


def undo_run(work: Work, run_id: uuid.UUID, by: str | None = None) -> None:
    """Cancel a run that was saved a short while ago, without a reason; `by` is the run's own person, if known.

    Raises
    ------
    NotFound    no such run
    Conflict    too late, somebody else's, a correction, or corrected in the meantime
    """
    with work.write() as session:
        run = _run_to_end(session, run_id)
        if run is None:
            return
        if by is not None and run.person_id != person_of(session, by).id:
            raise Conflict.of("run", "it is somebody else's", "let that person undo it, or correct it with a reason")
        if run.supersedes_id is not None:
            raise Conflict.of("run", "it corrects an earlier entry, which undoing would remove too", "correct it again")
        if work.clock() - run.recorded_at > timedelta(minutes=work.settings.undo_minutes):
            raise Conflict.of(
                "run",
                phrase("it was saved more than {undo_minutes} minutes ago", undo_minutes=work.settings.undo_minutes),
                "correct it with a reason",
            )
        _cancel(session, work, run, str(UNDONE), run.person_id)


def _cancel(session: Session, work: Work, run: Run, reason: str, by: int | None) -> None:
    cancel_row(session, work, run, reason, by)
    book_taken(session, work, {run.tap_id}, by)
    refresh(session, {run.tap_id})


def _run_to_end(session: Session, run_id: uuid.UUID) -> Run | None:
    """The run, with its tap locked; None if it has already been cancelled."""
    run = entry_of(session, Run, run_id)
    hold(session, Tap, {run.tap_id})
    return None if is_cancelled(session, run) else run


def resolve(session: Session, entry: RunEntry, find: Finder | None = None) -> dict[str, Any]:
    """The entry as column values, with its codes looked up (by `find`, if an import has them already).

    Raises
    ------
    InputError    unknown codes, no material, a speed outside the station's range
    """
    problems: list[Problem] = []
    look = partial(look_up, partial(find_in, session) if find is None else find, problems)
    tap: Tap | None = look(Tap, entry.tap, "tap")
    person: Person | None = look(Person, entry.person, "person")
    station: Station | None = look(Station, entry.station, "station")
    job: Job | None = look(Job, entry.job, "job")
    material: Material | None = look(Material, entry.material, "material")
    if material is None and job is not None:
        material = job.material
    if material is None and entry.material is None:
        problems.append(Problem("material", "it is missing", "choose a job, or name the material"))
    problems += _speed_problems(station, entry.rpm)
    if problems or tap is None or material is None:
        raise InputError(problems)
    return {
        "batch_id": entry.batch_id,
        "ended_at": entry.ended_at,
        "device_time": entry.device_time,
        "person_id": person.id if person else None,
        "station_id": station.id if station else None,
        "job_id": job.id if job else None,
        "tap_id": tap.id,
        "material_id": material.id,
        "rpm": entry.rpm,
        "holes": entry.holes,
        "cutting_slips": entry.cutting_slips,
        "slip_holes": " ".join(map(str, entry.slip_holes)) or None,
        "depth_control": entry.depth_control,
        "lubricant": entry.lubricant,
        "tap_end": entry.tap_end,
        "broke_at_hole": entry.broke_at_hole,
        "part_fate": entry.part_fate,
        "note": entry.note,
        "confirmed": " ".join(word.value for word in entry.confirmed) or None,
    }


def _read_together(session: Session, entry: RunEntry) -> tuple[Run | None, Finder]:
    """The stored run of this id, and a finder that knows the rows of the entry's codes, all read in one statement.

    As long as the finder is there the session need not read them again.
    """
    said: dict[type[Any], str | None] = {
        Tap: entry.tap,
        Person: entry.person,
        Station: entry.station,
        Job: entry.job,
        Material: entry.material,
    }
    codes = {table: code for table, code in said.items() if code is not None and is_writable(code)}
    one = select(literal(1).label("one")).subquery()
    query = select(Run, *codes).select_from(one).outerjoin(Run, Run.id == entry.id)
    for table, code in codes.items():
        query = query.outerjoin(table, table.code == code)
    stored, *found = session.execute(query.options(lazyload(Person.roles)) if Person in codes else query).one()
    known = dict(zip(codes, found, strict=True))
    return stored, lambda table, code: known.get(table) or find_in(session, table, code)


def _speed_problems(station: Station | None, rpm: int) -> list[Problem]:
    if station is None or station.rpm_min is None or station.rpm_max is None:
        return []
    if station.rpm_min <= rpm <= station.rpm_max:
        return []
    speeds = spindle_speeds(station.rpm_min, station.rpm_max)
    return [
        Problem(
            "rpm",
            phrase("{station} does not run at {rpm}", station=station.name, rpm=rpm),
            phrase("give its speed, {speeds}", speeds=speeds),
        )
    ]


def same_run(stored: Run, entry: RunEntry, values: Mapping[str, Any]) -> None:
    """Refuse a different run under a taken id; its time and what was asked may differ, the work done may not."""
    of_sending = {"device_time", "confirmed"} | ({"ended_at"} if entry.is_clocked_here else set())
    differing = [name for name, value in values.items() if name not in of_sending and getattr(stored, name) != value]
    if differing:
        names = ", ".join(name.removesuffix("_id") for name in differing)
        raise Conflict.of(
            "id",
            phrase("another run is stored under it (it differs in: {names})", names=names),
            "send it under a new id",
        )


def _store(session: Session, work: Work, entry: RunEntry, values: dict[str, Any], **chain: Any) -> None:
    now = work.clock()
    defaults = {
        "original_id": entry.id,
        "position": int(now.timestamp() * 1_000_000),
        "recorded_at": now,
        "recorded_by_id": values["person_id"],
    }
    run = Run(id=entry.id, **{**defaults, **chain}, **values)
    session.add(run)
    session.flush()
    if entry.tap_end is TapEnd.BROKEN:
        _report_incident(session, run, entry)
    book_taken(session, work, {run.tap_id}, run.recorded_by_id, may_revoke=bool(chain))
    refresh(session, {run.tap_id}, newest=None if chain else run.ended_at)


def _report_incident(session: Session, run: Run, entry: RunEntry) -> None:
    """Report why a tap broke; a correction of the run reports anew only if it says something of the cause."""
    earlier = session.scalar(select(Incident).where(Incident.run_id == run.original_id, counts(Incident)))
    if earlier is not None and entry.cause in (None, earlier.cause):
        return
    session.add(
        Incident(
            id=incident_id(run.id),
            supersedes_id=earlier.id if earlier else None,
            reason=run.reason if earlier else None,
            run_id=run.original_id,
            reported_at=run.ended_at,
            person_id=run.person_id,
            cause=entry.cause or Cause.NOT_KNOWN,
            # The account may have been revised on the incident's page; the run's note must not overwrite it then.
            account=entry.note if earlier is None or earlier.account is None else earlier.account,
            recorded_at=run.recorded_at,
            recorded_by_id=run.recorded_by_id,
        )
    )


def incident_id(run_id: uuid.UUID) -> uuid.UUID:
    """Id of the incident that a run reports, the same each time the run is sent."""
    return uuid.uuid5(run_id, "incident")
