"""Who added or changed a catalogue row, and when: recorded automatically whenever a session writes one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from sqlalchemy import event
from sqlalchemy.orm import Session

from shopfloor.services.record.codes import find_in
from shopfloor.store import Edit, Person
from shopfloor.store.on_record import OnRecord


def sign_what_changes(session: Session, clock: Callable[[], datetime], by: str | None) -> None:
    """From now on new and changed rows refer to an edit made now by the person with this code; None: unknown."""

    @event.listens_for(session, "before_flush")
    def sign(session: Session, *_: Any) -> None:
        # A new edit each time: the database treats a second change under the same edit as unsigned.
        rows = [row for row in (*session.new, *session.dirty) if isinstance(row, OnRecord) and session.is_modified(row)]
        if rows:
            with session.no_autoflush:
                person = None if by is None else find_in(session, Person, by)
                edit = Edit(at=clock(), by_id=None if person is None else person.id)
            for row in rows:
                row.edit = edit
