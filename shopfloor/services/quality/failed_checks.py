"""A tap that failed the gauge is an incident: which parts are suspect, and what is known about the cause.

That it failed and which runs that puts in doubt follow from the log: a check that is corrected or cancelled takes its
incident with it. Only what people report about it is stored, as for a break.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, NotFound
from shopfloor.core.floor.suspect_runs import Since, Suspicion, suspicions
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality.incidents import Told
from shopfloor.services.record.revisions import STANDS, fates, person_of, reason_of
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import GaugeCheck, GaugeStory, Person, Tap
from shopfloor.store.engine import hold
from shopfloor.store.queries.gauges import (
    CheckedTap,
    ReadCheck,
    SuspectRun,
    first_ids,
    moments_by_tap,
    read_checks,
    suspect_runs,
    taps_that_failed,
)
from shopfloor.store.queries.log import counts


@dataclass(frozen=True)
class GaugeChange:
    """The incident of a failed check, revised under a new id; `seen` is the version that was read, if there was one."""

    id: uuid.UUID
    seen: uuid.UUID | None
    cause: Cause
    account: str | None


@dataclass(frozen=True)
class GaugeIncident:
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
class GaugeStoryTold:
    """An incident with all its versions, oldest first."""

    incident: GaugeIncident
    versions: tuple[Told, ...]

    @property
    def present(self) -> Told | None:
        """The version that counts now."""
        return next((told for told in reversed(self.versions) if told.change is None), None)


def gauge_incidents(session: Session, since: datetime | None = None) -> list[GaugeIncident]:
    """Every failed gauge check that counts, the newest first."""
    taps = {tap.id: tap for tap in taps_that_failed(session)}
    moments, runs = moments_by_tap(session, taps), suspect_runs(session, taps)
    checks, roots, told = read_checks(session), first_ids(session), _present_stories(session)
    found = [
        _incident(taps[tap], one, checks[one.check], roots, runs, told)
        for tap, of_tap in moments.items()
        for one in suspicions(of_tap)
        if since is None or one.at >= since
    ]
    return sorted(found, key=lambda one: one.at, reverse=True)


def _incident(
    tap: CheckedTap,
    found: Suspicion,
    check: ReadCheck,
    roots: dict[uuid.UUID, uuid.UUID],
    runs: dict[uuid.UUID, SuspectRun],
    told: dict[uuid.UUID, GaugeStory],
) -> GaugeIncident:
    checks = tuple(roots[id_] for id_ in (found.check, *found.again))
    stories = [told[id_] for id_ in checks if id_ in told]
    story = max(stories, key=lambda one: one.recorded_at, default=None)
    return GaugeIncident(
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
        cause=Cause.NOT_KNOWN if story is None else story.cause,
        account=None if story is None else story.account,
    )


def _present_stories(session: Session) -> dict[uuid.UUID, GaugeStory]:
    """What people reported about failed checks, by the first id of the check."""
    return {story.check_id: story for story in session.scalars(select(GaugeStory).where(counts(GaugeStory)))}


def failed_checks(work: Work, since: datetime | None, tap_type: str | None = None) -> list[GaugeIncident]:
    """Failed gauge checks since a day (None: all) of one tap type or all, the newest first."""
    with work.read() as session:
        found = gauge_incidents(session, since)
    return [one for one in found if tap_type in (None, one.tap_type)]


def gauge_story(work: Work, check_id: uuid.UUID) -> GaugeStoryTold:
    """The incident that a check opened or belongs to, by the id of any version of it.

    Raises
    ------
    NotFound    no such check, or it no longer says that the tap failed
    """
    with work.read() as session:
        return _told(session, check_id)


@tried_again
def tell_gauge_story(work: Work, check_id: uuid.UUID, change: GaugeChange, reason: str, by: str) -> None:
    """Report why a tap failed the gauge, or revise that; the same entry sent twice is stored once.

    Raises
    ------
    NotFound      no such check, or it no longer says that the tap failed
    Conflict      somebody else reported it in the meantime
    InputError    no reason for a revision, an unknown person
    """
    with work.write() as session:
        hold(session, Tap, {_check(session, check_id).tap_id})
        told = _told(session, check_id)
        stored = session.get(GaugeStory, change.id)
        if stored is not None and stored.check_id in told.incident.checks:
            return
        if (None if told.present is None else told.present.id) != change.seen:
            raise Conflict.of("story", "it was corrected or cancelled in the meantime", "open the page again")
        if stored is not None:
            raise Conflict.of("id", "it is used by another story", "open the page again")
        session.add(
            GaugeStory(
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


def _check(session: Session, check_id: uuid.UUID) -> GaugeCheck:
    check = session.get(GaugeCheck, check_id)
    if check is None:
        raise NotFound(f"no gauge check {check_id}")
    return check


def _told(session: Session, check_id: uuid.UUID) -> GaugeStoryTold:
    check = _check(session, check_id)
    first = first_ids(session)[check.id]
    incident = next((one for one in gauge_incidents(session) if first in one.checks), None)
    if incident is None:
        raise NotFound(f"no tap failed in gauge check {check_id}")
    return GaugeStoryTold(incident, tuple(_versions(session, incident.checks)))


def _versions(session: Session, checks: Collection[uuid.UUID]) -> Sequence[Told]:
    columns = (GaugeStory.id, GaugeStory.cause, GaugeStory.account, GaugeStory.recorded_at, Person.name)
    query = select(*columns).outerjoin(Person, Person.id == GaugeStory.recorded_by_id)
    rows = session.execute(query.where(GaugeStory.check_id.in_(checks)).order_by(GaugeStory.recorded_at)).all()
    ended = fates(session, GaugeStory, [row.id for row in rows])
    return [Told(*row, *ended.get(row.id, STANDS)) for row in rows]
