"""One protocol for what was logged: an entry is never changed, only superseded or cancelled, with who, when and why.

It holds for runs, gauge checks, movements and incidents. What is sent twice is stored once: a correction carries the id
that its form was given. Whoever corrects or cancels must have seen what counts now.

A correction cannot be undone, only corrected again.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.floor.tap_lives import LifeConflict
from shopfloor.core.input.stored_phrases import told
from shopfloor.core.phrases import phrase
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.store import Cancellation, GaugeCheck, GaugeIncident, Incident, Person, Photograph, Run, StockMovement
from shopfloor.store.queries.log import counts

EntryRow = Run | GaugeCheck | GaugeIncident | Incident | StockMovement
AnyRow = TypeVar("AnyRow", Run, GaugeCheck, GaugeIncident, Incident, StockMovement)

_FIELDS: dict[type[Any], str] = {
    Run: "run",
    GaugeCheck: "check",
    GaugeIncident: "incident",
    Incident: "incident",
    StockMovement: "movement",
}
_IS_USED: dict[str, str] = {
    "run": phrase("it is used by another run"),
    "check": phrase("it is used by another check"),
    "incident": phrase("it is used by another incident"),
    "movement": phrase("it is used by another movement"),
}


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


def entry_of(session: Session, table: type[AnyRow], id_: uuid.UUID) -> AnyRow:
    """The entry of this id, whether it counts or not; raises NotFound."""
    row = session.get(table, id_)
    if row is None:
        raise NotFound(f"no {_FIELDS[table]} {id_}")
    return row


def must_count(session: Session, row: EntryRow) -> None:
    """Refuse to change what was corrected or cancelled already.

    Raises
    ------
    Conflict    naming the kind of entry, and what to do instead
    """
    table = type(row)
    if session.scalar(select(table.id).where(table.id == row.id, counts(table))) is None:
        raise Conflict.of(_FIELDS[table], "it was corrected or cancelled in the meantime", "open the newest entry")


def must_be_seen(present: uuid.UUID | None, seen: uuid.UUID | None) -> None:
    """Refuse to change an incident that is no longer as it was read; None: nothing was told."""
    if present != seen:
        raise Conflict.of("incident", "it was corrected or cancelled in the meantime", "open the page again")


def repeated(
    session: Session,
    table: type[AnyRow],
    new_id: uuid.UUID,
    is_same: Callable[[AnyRow], bool],
    must: Callable[[], None],
    remedy: str = "open the page again",
) -> AnyRow | None:
    """The revision stored under `new_id` where this one was sent before; None where it is new and may be stored.

    Parameters
    ----------
    is_same    whether a stored revision is of the same entry
    must       refuses a new one, by a Conflict, where what it changes is no longer as it was read
    remedy     what to do where the id is taken

    Raises
    ------
    Conflict    from `must`, or since another entry has the id
    """
    stored = session.get(table, new_id)
    if stored is not None and is_same(stored):
        return stored
    must()
    if stored is not None:
        raise Conflict.of("id", _IS_USED[_FIELDS[table]], remedy)
    return None


def repeated_correction(
    session: Session, old: AnyRow, new_id: uuid.UUID, remedy: str = "open the page again"
) -> AnyRow | None:
    """`repeated` for the correction of one entry, which must still count."""
    return repeated(
        session, type(old), new_id, lambda one: one.supersedes_id == old.id, lambda: must_count(session, old), remedy
    )


def signed(session: Session, work: Work, reason: str, by: str) -> dict[str, Any]:
    """Why, when and by whom an entry is superseded, by column.

    Raises
    ------
    InputError    no reason, an unknown person
    """
    return {"reason": reason_of(reason), "recorded_at": work.clock(), "recorded_by_id": person_of(session, by).id}


def is_cancelled(session: Session, row: EntryRow) -> bool:
    """Whether the entry was cancelled already, so that nothing is left to do; raises Conflict if it was corrected."""
    if session.get(Cancellation, row.id) is not None:
        return True
    must_count(session, row)
    return False


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
