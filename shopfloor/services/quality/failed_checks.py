"""A tap that failed the gauge is an incident: which parts are suspect, and what is known about the cause.

That it failed and which runs that puts in doubt follow from the log: a check that is corrected or cancelled takes its
incident with it. Only what people report about it is stored, as for a break.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import NotFound
from shopfloor.core.floor.suspect_runs import Since, Suspicion, suspicions
from shopfloor.core.input.incident_report import CheckReport
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality.incidents import IncidentVersion
from shopfloor.services.record.revisions import (
    STANDS,
    entry_of,
    fates,
    must_be_seen,
    person_of,
    reason_of,
    repeated,
)
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import GaugeCheck, GaugeIncident, Person, Tap
from shopfloor.store.engine import hold
from shopfloor.store.queries.gauges import (
    CheckedTap,
    ReadCheck,
    SuspectRun,
    checked_taps,
    first_ids,
    last_opened,
    moments_by_tap,
    read_checks,
    suspect_runs,
)
from shopfloor.store.queries.log import counts


@dataclass(frozen=True)
class FailedCheck:
    """A failed gauge check and the runs that it puts in doubt, oldest first.

    `check` is the first id of the check, `checks` those of all checks that found the same; `since` None: the tap was
    new, with `holes_before` on it already. `cause` and `account` are what is told of it.
    """

    check: uuid.UUID
    checks: tuple[uuid.UUID, ...]
    at: datetime
    tap: str
    tap_type: str
    person: str | None
    note: str | None
    start: Since
    since: datetime | None
    holes_before: int | None
    runs: tuple[SuspectRun, ...]
    cause: Cause
    account: str | None

    @property
    def holes(self) -> int:
        """Suspect holes."""
        return sum(run.holes for run in self.runs)


@dataclass(frozen=True)
class ReportedCheck:
    """An incident with all its versions, oldest first."""

    incident: FailedCheck
    versions: tuple[IncidentVersion, ...]

    @property
    def present(self) -> IncidentVersion | None:
        """The version that counts now."""
        return next((told for told in reversed(self.versions) if told.change is None), None)


@dataclass(frozen=True)
class FailedChecks:
    """How many incidents failed gauge checks opened, and the newest of them."""

    number: int
    newest: tuple[FailedCheck, ...]


def gauge_incidents(session: Session, taps: Collection[int]) -> dict[uuid.UUID, FailedCheck]:
    """The incidents that failed gauge checks of some taps opened, by the check."""
    if not taps:
        return {}
    of, moments, runs = checked_taps(session, taps), moments_by_tap(session, taps), suspect_runs(session, taps)
    checks, roots, told = read_checks(session, taps), first_ids(session, taps), _present_reports(session, taps)
    found = [
        _incident(of[tap], one, checks[one.check], roots, runs, told)
        for tap, of_tap in moments.items()
        for one in suspicions(of_tap)
    ]
    return {one.check: one for one in found}


def _incident(
    tap: CheckedTap,
    found: Suspicion,
    check: ReadCheck,
    roots: dict[uuid.UUID, uuid.UUID],
    runs: dict[uuid.UUID, SuspectRun],
    told: dict[uuid.UUID, GaugeIncident],
) -> FailedCheck:
    checks = tuple(roots[id_] for id_ in (found.check, *found.again))
    incidents = [told[id_] for id_ in checks if id_ in told]
    incident = max(incidents, key=lambda one: one.recorded_at, default=None)
    return FailedCheck(
        check=checks[0],
        checks=checks,
        at=found.at,
        tap=tap.code,
        tap_type=tap.tap_type,
        person=check.person,
        note=check.note,
        start=found.start,
        since=found.since,
        holes_before=tap.holes_before if found.start is Since.NEW else 0,
        runs=tuple(runs[id_] for id_ in found.runs),
        cause=Cause.NOT_KNOWN if incident is None else incident.cause,
        account=None if incident is None else incident.account,
    )


def _present_reports(session: Session, taps: Collection[int]) -> dict[uuid.UUID, GaugeIncident]:
    """What people reported about failed checks of the taps, by the first id of the check."""
    query = select(GaugeIncident).join(GaugeCheck, GaugeCheck.id == GaugeIncident.check_id)
    found = session.scalars(query.where(GaugeCheck.tap_id.in_(taps), counts(GaugeIncident)))
    return {incident.check_id: incident for incident in found}


def failed_checks(work: Work, since: datetime | None, tap_type: str | None = None, most: int = 3) -> FailedChecks:
    """Failed gauge checks since a day (None: all) of one tap type or all; `most` of the newest are told whole."""
    with work.read() as session:
        number, newest = last_opened(session, since, tap_type, most)
        found = gauge_incidents(session, set(newest.values()))
    return FailedChecks(number, tuple(found[check] for check in newest))


def failed_check(work: Work, check_id: uuid.UUID) -> ReportedCheck:
    """The incident that a check opened or belongs to, by the id of any version of it.

    Raises
    ------
    NotFound    no such check, or it no longer says that the tap failed
    """
    with work.read() as session:
        return _told(session, check_id)


@tried_again
def report_failed_check(work: Work, check_id: uuid.UUID, change: CheckReport, reason: str, by: str) -> None:
    """Report why a tap failed the gauge, or revise that; the same entry sent twice is stored once.

    Raises
    ------
    NotFound      no such check, or it no longer says that the tap failed
    Conflict      somebody else reported it in the meantime
    InputError    no reason for a revision, an unknown person
    """
    with work.write() as session:
        hold(session, Tap, {entry_of(session, GaugeCheck, check_id).tap_id})
        told = _told(session, check_id)
        present = None if told.present is None else told.present.id
        must = partial(must_be_seen, present, change.seen)
        if repeated(session, GaugeIncident, change.id, partial(_is_of, told.incident), must) is not None:
            return
        session.add(
            GaugeIncident(
                id=change.id,
                supersedes_id=change.seen,
                reason=None if change.seen is None else reason_of(reason),
                recorded_at=work.clock(),
                recorded_by_id=person_of(session, by).id,
                check_id=told.incident.check,
                cause=change.cause,
                account=change.account,
            )
        )


def _is_of(incident: FailedCheck, report: GaugeIncident) -> bool:
    return report.check_id in incident.checks


def _told(session: Session, check_id: uuid.UUID) -> ReportedCheck:
    check = entry_of(session, GaugeCheck, check_id)
    first = first_ids(session, [check.tap_id])[check.id]
    incident = next((one for one in gauge_incidents(session, [check.tap_id]).values() if first in one.checks), None)
    if incident is None:
        raise NotFound(f"no tap failed in gauge check {check_id}")
    return ReportedCheck(incident, tuple(_versions(session, incident.checks)))


def _versions(session: Session, checks: Collection[uuid.UUID]) -> Sequence[IncidentVersion]:
    columns = (GaugeIncident.id, GaugeIncident.cause, GaugeIncident.account, GaugeIncident.recorded_at, Person.name)
    query = select(*columns).outerjoin(Person, Person.id == GaugeIncident.recorded_by_id)
    rows = session.execute(query.where(GaugeIncident.check_id.in_(checks)).order_by(GaugeIncident.recorded_at)).all()
    ended = fates(session, GaugeIncident, [row.id for row in rows])
    return [IncidentVersion(*row, *ended.get(row.id, STANDS)) for row in rows]
