"""Limits on changing a movement: it must not contradict counted stock, the tap's use, or the order of its log.

Where it would, the newest entry has to be cancelled first.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import NoReturn

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.crib_entries import MOST_AT_ONCE
from shopfloor.core.phrases import phrase, phrase_of
from shopfloor.core.vocabulary import COMES_IN, MovementKind
from shopfloor.services.ledger.taps import last_movement
from shopfloor.services.record.revisions import clock_time
from shopfloor.services.record.work import Work
from shopfloor.store import GaugeCheck, Run, StockMovement, Tap
from shopfloor.store.queries.log import counts

_BEFORE_USE = (MovementKind.RECEIVED, MovementKind.ISSUED, MovementKind.REGROUND)
"""Movements without which a tap could not have been used as it was."""

_LEAVES = (MovementKind.SCRAPPED, MovementKind.LOST)


@dataclass(frozen=True, order=True)
class _Line:
    """A line of the ledger, in ledger order."""

    moved_at: datetime
    recorded_at: datetime
    id: uuid.UUID
    kind: MovementKind
    quantity: int
    tap_id: int | None


@dataclass(frozen=True)
class _Shelf:
    """The crib's stock after a line: all taps of the type, and those with a code of their own."""

    stock: int
    marked: int

    @property
    def unmarked(self) -> int:
        return self.stock - self.marked


def nothing_rests_on(session: Session, work: Work, row: StockMovement) -> None:
    """Refuse to cancel a tap's movement on which later ones, or its use, depend; raises Conflict."""
    if row.tap_id is None:
        return
    tap = session.get_one(Tap, row.tap_id)
    last = last_movement(session, tap)
    if last is not None and last.id != row.id:
        newer = phrase("{kind} of {at}", kind=last.kind.label.lower(), at=clock_time(work, last.moved_at))
        raise Conflict.of(
            "movement", phrase("a newer movement rests on it ({at})", at=newer), "cancel the newest one first"
        )
    if row.kind not in _BEFORE_USE:
        return
    # A run at the same instant as a regrind came before it, as in the tap's lives.
    since = Run.ended_at > row.moved_at if row.kind is MovementKind.REGROUND else Run.ended_at >= row.moved_at
    runs = select(Run.ended_at).where(Run.tap_id == tap.id, counts(Run), since)
    used_at = session.scalar(runs.order_by(Run.ended_at.desc()).limit(1))
    if used_at is not None:
        what = phrase("{code} was used since (run of {at})", code=tap.code, at=clock_time(work, used_at))
        raise Conflict.of("movement", what, "cancel or correct the runs since first")


def order_stays(session: Session, work: Work, row: StockMovement, moved_at: datetime) -> None:
    """Refuse a time that would move a tap's movement past another of its entries; raises Conflict."""
    if row.tap_id is None or moved_at == row.moved_at:
        return
    first, last = sorted((row.moved_at, moved_at))
    for table, at, of_tap in (
        (Run, Run.ended_at, Run.tap_id == row.tap_id),
        (GaugeCheck, GaugeCheck.checked_at, GaugeCheck.tap_id == row.tap_id),
        (StockMovement, StockMovement.moved_at, StockMovement.tap_id == row.tap_id),
    ):
        others = select(at).where(of_tap, counts(table), at >= first, at <= last, at != row.moved_at)
        between = session.scalar(others.order_by(at).limit(1))
        if between is not None:
            what = phrase("another entry of the tap lies between ({at})", at=clock_time(work, between))
            raise Conflict.of("moved_at", what, "give a time next to the old one, or correct that entry first")


def stock_stays_true(
    session: Session, work: Work, old: StockMovement, new: StockMovement | None, number: int | None = None
) -> int:
    """The change of stock once `new` replaces the movement (None: it is cancelled).

    `number` is of unmarked taps; a movement of one tap stays that of one tap.

    Raises
    ------
    Conflict      a later count would no longer be true; the crib's stock would have been negative
    InputError    a number out of range
    """
    lines = _lines(session, old)
    _no_taken_tap_leans_on(lines, work, old)
    others = [line for line in lines if line.id != old.id]
    after, quantity = others, 0
    if new is not None:
        before = sum(line.quantity for line in others if (line.moved_at, line.recorded_at) < _place(new))
        quantity = old.quantity if number is None or old.tap_id is not None else _quantity(old.kind, number, before)
        after = sorted([*others, _Line(*_place(new), old.id, old.kind, quantity, old.tap_id)])
    _compare(work, lines, after, old)
    return quantity


def number_of(session: Session, row: StockMovement) -> int:
    """How many unmarked taps a movement concerns."""
    if row.kind is not MovementKind.COUNTED:
        return abs(row.quantity)
    lines = _lines(session, row)
    found = _shelves(lines).get(row.id)
    return row.quantity if found is None else found.stock


def _no_taken_tap_leans_on(lines: Iterable[_Line], work: Work, old: StockMovement) -> None:
    """Refuse to change a count that already accounts for a tap taken without booking; raises Conflict."""
    if old.kind is not MovementKind.COUNTED:
        return
    for line in lines:
        is_taken = line.kind is MovementKind.ISSUED and line.quantity == 0
        if is_taken and line.recorded_at > old.recorded_at and line.moved_at <= old.moved_at:
            what = phrase("a tap taken on {at} was booked out by it", at=clock_time(work, line.moved_at))
            raise Conflict.of("movement", what, "count the box again instead")


def _lines(session: Session, row: StockMovement) -> list[_Line]:
    columns = (
        StockMovement.moved_at, StockMovement.recorded_at, StockMovement.id, StockMovement.kind, StockMovement.quantity,
        StockMovement.tap_id,
    )  # fmt: skip
    query = select(*columns).where(StockMovement.tap_type_id == row.tap_type_id, counts(StockMovement))
    return sorted(_Line(*found) for found in session.execute(query))


def _place(row: StockMovement) -> tuple[datetime, datetime]:
    return row.moved_at, row.recorded_at


def _quantity(kind: MovementKind, number: int, before: int) -> int:
    least = 0 if kind is MovementKind.COUNTED else 1
    if not least <= number <= MOST_AT_ONCE:
        raise InputError.of(
            "number",
            phrase("{number} is out of range", number=number),
            phrase("give a number from {least} to {most}", least=least, most=MOST_AT_ONCE),
        )
    if kind is MovementKind.COUNTED:
        return number - before
    return -number if kind in _LEAVES else number


def _shelves(lines: Iterable[_Line]) -> dict[uuid.UUID, _Shelf]:
    """The crib's stock after each line."""
    found: dict[uuid.UUID, _Shelf] = {}
    stock, marked = 0, set[int]()
    for line in lines:
        stock += line.quantity
        if line.tap_id is not None:
            (marked.add if line.kind in COMES_IN else marked.discard)(line.tap_id)
        found[line.id] = _Shelf(stock, len(marked))
    return found


def _compare(work: Work, lines: list[_Line], after: list[_Line], old: StockMovement) -> None:
    was, becomes = _shelves(lines), _shelves(after)
    for line in after:
        if line.kind is MovementKind.COUNTED and line.id != old.id and was[line.id].stock != becomes[line.id].stock:
            what = phrase(
                "the box was counted since ({at}), which settled the stock",
                at=clock_time(work, line.moved_at),
            )
            raise Conflict.of("movement", what, "cancel that count first, then count again")
    # Without the count the stock is again what was booked. Stations may have taken more than that, since a tap in hand
    # is never refused; the crib itself books out only what is there.
    is_count_gone = old.kind is MovementKind.COUNTED and old.id not in becomes
    for line in after:
        if is_count_gone and not (line.kind in _LEAVES and line.tap_id is None):
            continue
        is_wrong_count = line.id == old.id and line.kind is MovementKind.COUNTED
        if becomes[line.id].unmarked < 0 and (is_wrong_count or was[line.id].unmarked >= 0):
            _refuse(becomes[line.id], clock_time(work, line.moved_at))


def _refuse(shelf: _Shelf, at: datetime) -> NoReturn:
    """Refuse a stock that would have been negative, or smaller than the number of marked taps."""
    what = phrase("the crib would have had {stock} taps on {at}", stock=shelf.stock, at=at)
    if shelf.marked:
        what = phrase_of(
            shelf.marked,
            "the crib would have had {stock} taps on {at}, but {marked} marked one lay there",
            "the crib would have had {stock} taps on {at}, but {marked} marked ones lay there",
            stock=shelf.stock,
            at=at,
            marked=shelf.marked,
        )
    raise Conflict.of("movement", what, "cancel what left the crib since first, the newest first")
