"""Revise or withdraw the incident of a broken tap: its cause, what happened, what became of the part.

An incident belongs to the run's first id, so it survives corrections of the run. The fate of the part is a field of the
run, and is superseded with it.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from itertools import pairwise
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from shopfloor.core.errors import Conflict, NotFound
from shopfloor.core.input.incident_report import IncidentCorrection
from shopfloor.core.vocabulary import Cause, PartFate, TapEnd
from shopfloor.services.ledger.implied_issues import book_taken
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.revisions import (
    STANDS,
    Change,
    Standing,
    cancel_row,
    fates,
    must_be_seen,
    person_of,
    reason_of,
    repeated,
    signed,
    versions,
)
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Cancellation, Incident, Person, Run, Tap
from shopfloor.store.engine import hold
from shopfloor.store.queries.log import counts


@dataclass(frozen=True)
class IncidentVersion:
    """One version of an incident, who stored it and when; `change` says what became of it."""

    id: uuid.UUID
    cause: Cause
    account: str | None
    recorded_at: datetime
    by: str | None
    standing: Standing
    change: Change | None


@dataclass(frozen=True)
class FormerFate:
    """An earlier fate of the part, and what changed it."""

    fate: PartFate | None
    change: Change | None


@dataclass(frozen=True)
class BreakIncident:
    """One break with all versions of its incident, oldest first. `run` is the first id of the run."""

    run: uuid.UUID
    tap: str
    broke_at: datetime
    fate: PartFate | None
    versions: tuple[IncidentVersion, ...]
    fates: tuple[FormerFate, ...]

    @property
    def present(self) -> IncidentVersion | None:
        """The version that counts now."""
        return next((told for told in self.versions if told.change is None), None)


def incident_of(work: Work, run_id: uuid.UUID) -> BreakIncident:
    """The incident of the break in a run.

    Raises
    ------
    NotFound    no such run, or no tap broke in it
    """
    with work.read() as session:
        run = broken_run(session, run_id)
        return BreakIncident(
            run=run.original_id,
            tap=session.get_one(Tap, run.tap_id).code,
            broke_at=run.ended_at,
            fate=run.part_fate,
            versions=tuple(_told(session, run.original_id)),
            fates=tuple(_former_fates(session, run)),
        )


@tried_again
def correct_incident(work: Work, run_id: uuid.UUID, change: IncidentCorrection, reason: str, by: str) -> None:
    """Revise the incident of a break; sent twice, it is stored once. The part's fate belongs to the run.

    Raises
    ------
    NotFound      no such run, or no tap broke in it
    Conflict      somebody else revised it in the meantime
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        run, present = _held(session, run_id)
        is_same, must = partial(_is_of, run), partial(must_be_seen, _id(present), change.seen)
        if repeated(session, Incident, change.id, is_same, must) is not None:
            return
        why = signed(session, work, reason, by)
        session.add(
            Incident(
                id=change.id,
                supersedes_id=_id(present),
                run_id=run.original_id,
                reported_at=run.ended_at if present is None else present.reported_at,
                person_id=run.person_id if present is None else present.person_id,
                cause=change.cause,
                account=change.account,
                **why,
            )
        )
        if change.fate is not run.part_fate:
            _retell_run(session, work, run, {"id": uuid.uuid5(change.id, "fate"), "part_fate": change.fate, **why})


@tried_again
def cancel_incident(work: Work, run_id: uuid.UUID, seen: uuid.UUID | None, reason: str, by: str) -> None:
    """Withdraw the incident of a break; the break itself stays. Withdrawing twice changes nothing.

    Raises
    ------
    NotFound      no such run, or no tap broke in it
    Conflict      somebody else revised it in the meantime
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        _, present = _held(session, run_id)
        if seen is not None and session.get(Cancellation, seen) is not None:
            return
        must_be_seen(_id(present), seen)
        if present is None:
            raise Conflict.of("incident", "there is none", "tell it first")
        cancel_row(session, work, present, reason_of(reason), person_of(session, by).id)


def _retell_run(session: Session, work: Work, run: Run, changed: dict[str, Any]) -> None:
    """Supersede the run by a copy with these changes."""
    kept = {column.key: getattr(run, column.key) for column in Run.__table__.columns}
    anew = Run(**{**kept, "supersedes_id": run.id, **changed})
    session.add(anew)
    book_taken(session, work, {run.tap_id}, anew.recorded_by_id)
    refresh(session, {run.tap_id})


def _is_of(run: Run, incident: Incident) -> bool:
    return incident.run_id == run.original_id


def _id(incident: Incident | None) -> uuid.UUID | None:
    return None if incident is None else incident.id


def _held(session: Session, run_id: uuid.UUID) -> tuple[Run, Incident | None]:
    """The run and its incident as they are now, with the tap's log locked against other changes."""
    hold(session, Tap, {broken_run(session, run_id).tap_id})
    run = broken_run(session, run_id)
    return run, session.scalar(select(Incident).where(Incident.run_id == run.original_id, counts(Incident)))


def broken_run(session: Session, run_id: uuid.UUID) -> Run:
    """The run as it counts now, by the id of any of its versions; raises NotFound if no tap broke in it."""
    version = aliased(Run)
    first = select(version.original_id).where(version.id == run_id).scalar_subquery()
    run = session.scalar(select(Run).where(Run.original_id == first, Run.tap_end == TapEnd.BROKEN, counts(Run)))
    if run is None:
        raise NotFound(f"no tap broke in run {run_id}")
    return run


def _told(session: Session, run_id: uuid.UUID) -> list[IncidentVersion]:
    columns = (Incident.id, Incident.cause, Incident.account, Incident.recorded_at, Person.name)
    query = select(*columns).outerjoin(Person, Person.id == Incident.recorded_by_id).where(Incident.run_id == run_id)
    rows = session.execute(query.order_by(Incident.recorded_at)).all()
    ended = fates(session, Incident, [row.id for row in rows])
    return [IncidentVersion(*row, *ended.get(row.id, STANDS)) for row in rows]


def _former_fates(session: Session, run: Run) -> list[FormerFate]:
    chain = versions(session, run)
    ended = fates(session, Run, [one.id for one in chain])
    return [
        FormerFate(old.part_fate, ended[old.id][1])
        for old, new in pairwise(chain)
        if old.part_fate is not new.part_fate
    ]
