"""Whether an entry of the log counts, what became of it if not, and what revising it takes."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.floor.tap_lives import LifeConflict
from shopfloor.core.input.stored_phrases import told
from shopfloor.core.phrases import phrase
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.store import Cancellation, GaugeCheck, GaugeStory, Incident, Person, Photograph, Run, StockMovement
from shopfloor.store.queries.log import counts

EntryRow = Run | GaugeCheck | GaugeStory | Incident | StockMovement
AnyRow = TypeVar("AnyRow", Run, GaugeCheck, GaugeStory, Incident, StockMovement)


class Standing(Enum):
    """Whether an entry counts, and if not, why not."""

    SAVED = "saved"
    CORRECTED = "corrected"
    CANCELLED = "cancelled"


@dataclass(frozen=True)
class Change:
    """Who corrected or cancelled an entry, when, and why."""

    by: str | None
    at: datetime
    reason: str


Fate = tuple[Standing, Change | None]
STANDS: Fate = (Standing.SAVED, None)


def fates(session: Session, table: type[EntryRow], ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Fate]:
    """What became of those entries that no longer count, by their ids."""
    later = (
        select(table.supersedes_id, Person.name, table.recorded_at, table.reason)
        .outerjoin(Person, Person.id == table.recorded_by_id)
        .where(table.supersedes_id.in_(ids))
    )
    ended = (
        select(Cancellation.entry_id, Person.name, Cancellation.cancelled_at, Cancellation.reason)
        .outerjoin(Person, Person.id == Cancellation.cancelled_by_id)
        .where(Cancellation.entry_id.in_(ids))
    )
    found: dict[uuid.UUID, Fate] = {}
    queries: list[tuple[Any, Standing]] = [(later, Standing.CORRECTED), (ended, Standing.CANCELLED)]
    for query, standing in queries:
        for id_, by, at, reason in session.execute(query):
            found[id_] = standing, Change(by, at, told(reason or ""))
    return found


def versions(session: Session, row: AnyRow) -> list[AnyRow]:
    """The entry with the versions before and after it, oldest first."""
    table = type(row)
    found = [row]
    while (before := found[0].supersedes_id) is not None:
        found.insert(0, session.get_one(table, before))
    while (after := session.scalar(select(table).where(table.supersedes_id == found[-1].id))) is not None:
        found.append(after)
    return found


def must_count(session: Session, row: EntryRow, word: str) -> None:
    """Refuse to change an entry that has already been corrected or cancelled.

    Raises
    ------
    Conflict    naming `word`, and what to do instead
    """
    table = type(row)
    if session.scalar(select(table.id).where(table.id == row.id, counts(table))) is None:
        raise Conflict.of(word, "it was corrected or cancelled in the meantime", "open the newest entry")


def cancel_row(session: Session, work: Work, row: EntryRow | Photograph, reason: str, by: int | None) -> None:
    """Cancel an entry; it stays readable, with the reason."""
    cancelled = {"cancelled_at": work.clock(), "cancelled_by_id": by, "reason": reason}
    session.add(Cancellation(entry_id=row.id, entry_table=row.__tablename__, **cancelled))
    session.flush()


def reason_of(text: str) -> str:
    """The reason, stripped; raises InputError if there is none."""
    reason = text.strip()
    if not reason:
        raise InputError.of("reason", "it is missing", "say in a few words why")
    return reason


def person_of(session: Session, code: str) -> Person:
    """The person with this code; raises InputError if there is none."""
    person = find_in(session, Person, code)
    if person is None:
        raise InputError.of("person", phrase("'{code}' is not a person of this shop", code=code), "choose who you are")
    return person


@contextmanager
def later_entries_agree(work: Work, field: str, remedy: str) -> Iterator[None]:
    """Blame a conflict with the tap's later entries on the change, not on the run that it collides with."""
    try:
        yield
    except LifeConflict as conflict:
        if conflict.event is None:
            raise
        at = clock_time(work, conflict.event.at)
        what = phrase(
            "the tap's entry of {at} would contradict the log then ({what})", at=at, what=conflict.problems[0].what
        )
        raise LifeConflict.at(conflict.event, what, remedy) from None


def clock_time(work: Work, at: datetime) -> datetime:
    """An instant in the shop's time zone, for use in a phrase."""
    return at.astimezone(work.settings.zone)
