"""Movements as a person reads them, including those that no longer count."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from shopfloor.core.input.stored_phrases import told, told_of_lot
from shopfloor.core.vocabulary import MovementKind
from shopfloor.services.record.revisions import STANDS, Change, Standing, fates
from shopfloor.store import Person, Station, StockMovement, Tap


@dataclass(frozen=True)
class BookedMove:
    """One movement; `tap` None: of unmarked taps. `change` says what became of it if it no longer counts."""

    id: uuid.UUID
    moved_at: datetime
    kind: MovementKind
    quantity: int
    tap: str | None
    station: str | None
    person: str | None
    note: str | None
    standing: Standing
    change: Change | None


def booked_moves(session: Session, *which: ColumnElement[bool]) -> list[BookedMove]:
    """Movements that match these conditions, newest first."""
    query = (
        select(
            StockMovement.id, StockMovement.moved_at, StockMovement.kind, StockMovement.quantity, Tap.code,
            Station.code, Person.name, StockMovement.note,
        )
        .outerjoin(Tap, Tap.id == StockMovement.tap_id)
        .outerjoin(Station, Station.id == StockMovement.station_id)
        .outerjoin(Person, Person.id == StockMovement.person_id)
        .where(*which)
        .order_by(StockMovement.moved_at.desc(), StockMovement.recorded_at.desc())
    )  # fmt: skip
    rows = session.execute(query).all()
    ended = fates(session, StockMovement, [row.id for row in rows])
    moves = [BookedMove(*row, *ended.get(row.id, STANDS)) for row in rows]
    return [replace(move, note=told_note(move.kind, move.note)) for move in moves]


def told_note(kind: MovementKind, note: str | None) -> str | None:
    """A stored note for display; what the program itself wrote becomes a phrase."""
    if note is None:
        return None
    return told_of_lot(note) if kind is MovementKind.RECEIVED else told(note)
