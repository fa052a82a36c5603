"""Correct and cancel a stock movement; the old row stays, and stock and tap lives must remain consistent.

A tap whose receipt was cancelled is offered nowhere, and its code may be received again.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from functools import partial
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.crib_entries import MoveChange
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import MovementKind
from shopfloor.services.ledger import movement_rules as rules
from shopfloor.services.ledger.history import BookedMove, booked_moves
from shopfloor.services.record.codes import find_in, look_up
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.revisions import (
    cancel_row,
    entry_of,
    is_cancelled,
    later_entries_agree,
    person_of,
    reason_of,
    repeated_correction,
    signed,
    versions,
)
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Station, StockMovement, Tap, TapType
from shopfloor.store.engine import hold

_REMEDY = phrase("correct or cancel that entry first")


@dataclass(frozen=True)
class MoveHistory:
    """A movement with all its versions, oldest first; `number` only for unmarked taps."""

    tap_type: str
    move: BookedMove
    number: int | None
    versions: tuple[BookedMove, ...]
    stations: tuple[tuple[str, str], ...]


def move_history(work: Work, movement_id: uuid.UUID) -> MoveHistory:
    """One movement with its earlier versions.

    Raises
    ------
    NotFound    no such movement
    """
    with work.read() as session:
        row = entry_of(session, StockMovement, movement_id)
        chain = [one.id for one in versions(session, row)]
        told = {move.id: move for move in booked_moves(session, StockMovement.id.in_(chain))}
        stations = session.execute(select(Station.code, Station.name).order_by(Station.id))
        return MoveHistory(
            tap_type=session.get_one(TapType, row.tap_type_id).code,
            move=told[row.id],
            number=rules.number_of(session, row) if row.tap_id is None else None,
            versions=tuple(told[version] for version in chain),
            stations=tuple((code, name) for code, name in stations) if row.kind is MovementKind.ISSUED else (),
        )


@tried_again
def correct_movement(work: Work, movement_id: uuid.UUID, change: MoveChange, reason: str, by: str) -> None:
    """Supersede a movement; the same correction sent twice is stored once. What moved, and how, cannot change.

    Raises
    ------
    NotFound      no such movement
    Conflict      corrected or cancelled in the meantime; other entries lie between; the stock would contradict itself
    InputError    no reason, unknown codes, a number out of range
    """
    with work.write() as session:
        old = _held(session, movement_id)
        if repeated_correction(session, old, change.id) is not None:
            return
        new = _corrected(session, old, change, signed(session, work, reason, by))
        rules.order_stays(session, work, old, new.moved_at)
        new.quantity = rules.stock_stays_true(session, work, old, new, change.number)
        session.add(new)
        _refresh(session, work, old)


@tried_again
def cancel_movement(work: Work, movement_id: uuid.UUID, reason: str, by: str) -> None:
    """Cancel a movement. Cancelling twice changes nothing.

    Raises
    ------
    NotFound      no such movement
    Conflict      it was corrected; later entries rest on it; the stock would contradict itself
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        row = _held(session, movement_id)
        if is_cancelled(session, row):
            return
        why, person = reason_of(reason), person_of(session, by)
        rules.nothing_rests_on(session, work, row)
        rules.stock_stays_true(session, work, row, None)
        cancel_row(session, work, row, why, person.id)
        _refresh(session, work, row)


def _refresh(session: Session, work: Work, row: StockMovement) -> None:
    if row.tap_id is not None:
        with later_entries_agree(work, "movement", _REMEDY):
            refresh(session, {row.tap_id})


def _corrected(session: Session, old: StockMovement, change: MoveChange, signed: dict[str, Any]) -> StockMovement:
    kept: dict[str, Any] = {
        name: getattr(old, name) for name in ("kind", "tap_type_id", "tap_id", "quantity", "person_id")
    }
    return StockMovement(
        id=change.id,
        supersedes_id=old.id,
        moved_at=change.moved_at,
        station_id=_station(session, old, change.station),
        note=change.note,
        **kept,
        **signed,
    )


def _station(session: Session, old: StockMovement, code: str | None) -> int | None:
    problems: list[Problem] = []
    station: Station | None = look_up(partial(find_in, session), problems, Station, code, "station")
    if problems:
        raise InputError(problems)
    is_fitted = station is not None and old.kind is MovementKind.ISSUED
    return station.id if station is not None and is_fitted else old.station_id


def _held(session: Session, movement_id: uuid.UUID) -> StockMovement:
    """The movement, with its type's stock and its tap's life locked against other changes."""
    row = entry_of(session, StockMovement, movement_id)
    hold(session, TapType, {row.tap_type_id})
    if row.tap_id is not None:
        hold(session, Tap, {row.tap_id})
    return row
