"""The crib's ledger, and the use of taps according to the log, as values."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import and_, case, exists, func, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import MovementKind
from shopfloor.store import CribStock, Job, MarkedInCrib, Person, Run, Station, StockMovement, Tap, TapLife, TapType
from shopfloor.store.queries.fitted import IN_USE
from shopfloor.store.queries.log import counts

WITHDRAWN = and_(
    exists().where(StockMovement.tap_id == Tap.id, StockMovement.kind == MovementKind.RECEIVED),
    ~exists().where(StockMovement.tap_id == Tap.id, counts(StockMovement)),
    ~exists().where(Run.tap_id == Tap.id, counts(Run)),
)
"""SQL condition that a tap's receipt was cancelled and the log knows nothing else about it."""


@dataclass(frozen=True)
class Shelf:
    """One tap type in the crib; `movements` 0: nothing was ever booked, so `on_hand` means nothing.

    `marked` of those on hand have a code of their own.
    """

    tap_type: int
    code: str
    supplier: str | None
    unit_cost: Decimal | None
    lead_time_days: int | None
    on_hand: int
    movements: int
    in_use: int
    marked: int

    @property
    def unmarked(self) -> int:
        """Taps in the box by the ledger; below 0 if more were taken out than were booked in."""
        return self.on_hand - self.marked


@dataclass(frozen=True)
class LedgerLine:
    """One movement, with the crib's balance after it."""

    id: uuid.UUID
    moved_at: datetime
    kind: MovementKind
    quantity: int
    tap: str | None
    station: str | None
    person: str | None
    note: str | None
    balance: int


@dataclass(frozen=True)
class OpenJob:
    """An open job with a plan; `rpm` is the planned speed."""

    id: int
    code: str
    material: int
    thread: str | None
    planned_holes: int
    due_on: date
    rpm: int | None


@dataclass(frozen=True)
class Begun:
    """Lives begun of one tap type since a day, and how many of them on new taps."""

    lives: int
    new: int


def shelves(session: Session) -> list[Shelf]:
    """Every tap type with its stock, by code."""
    used = (
        select(Tap.tap_type_id, func.count().label("count"))
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(IN_USE)
        .group_by(Tap.tap_type_id)
        .subquery()
    )
    marked = select(MarkedInCrib.tap_type_id, func.count().label("count")).group_by(MarkedInCrib.tap_type_id).subquery()
    query = (
        select(
            TapType.id, TapType.code, TapType.supplier, TapType.unit_cost, TapType.lead_time_days,
            func.coalesce(CribStock.on_hand, 0), func.coalesce(CribStock.movements, 0),
            func.coalesce(used.c.count, 0), func.coalesce(marked.c.count, 0),
        )
        .outerjoin(CribStock, CribStock.tap_type_id == TapType.id)
        .outerjoin(used, used.c.tap_type_id == TapType.id)
        .outerjoin(marked, marked.c.tap_type_id == TapType.id)
        .order_by(TapType.code)
    )  # fmt: skip
    return [Shelf(*row) for row in session.execute(query)]


def balance_of(session: Session, tap_type: int) -> int:
    """Taps of this type that the ledger says are in the crib."""
    return session.scalar(select(CribStock.on_hand).where(CribStock.tap_type_id == tap_type)) or 0


def marked_in_crib(session: Session, tap_type: int) -> list[str]:
    """Codes of the taps of this type that the ledger has in the crib."""
    there = select(Tap.code).join(MarkedInCrib, MarkedInCrib.tap_id == Tap.id)
    return list(session.scalars(there.where(MarkedInCrib.tap_type_id == tap_type).order_by(Tap.code)))


def ledger_lines(session: Session, tap_type: int) -> list[LedgerLine]:
    """Every movement of one tap type that counts, oldest first."""
    query = (
        select(
            StockMovement.id, StockMovement.moved_at, StockMovement.kind, StockMovement.quantity, Tap.code,
            Station.code, Person.name, StockMovement.note,
        )
        .outerjoin(Tap, Tap.id == StockMovement.tap_id)
        .outerjoin(Station, Station.id == StockMovement.station_id)
        .outerjoin(Person, Person.id == StockMovement.person_id)
        .where(StockMovement.tap_type_id == tap_type, counts(StockMovement))
        .order_by(StockMovement.moved_at, StockMovement.recorded_at)
    )  # fmt: skip
    lines: list[LedgerLine] = []
    for row in session.execute(query):
        before = lines[-1].balance if lines else 0
        lines.append(LedgerLine(*row, balance=before + row.quantity))
    return lines


def open_jobs(session: Session) -> list[OpenJob]:
    """Open jobs with a planned number of holes and a due date."""
    holes = Job.planned_quantity * Job.holes_per_part
    columns: list[Any] = [Job.id, Job.code, Job.material_id, Job.thread, holes, Job.due_on, Job.planned_rpm]
    planned = select(*columns).where(Job.is_open, holes.is_not(None), Job.due_on.is_not(None))
    return [OpenJob(*row) for row in session.execute(planned.order_by(Job.due_on, Job.code))]


def log_began(session: Session) -> datetime | None:
    """End of the oldest run that counts; None if nothing was logged."""
    return session.scalar(select(func.min(Run.ended_at)).where(counts(Run)))


def lives_begun(session: Session, since: datetime) -> Mapping[int, Begun]:
    """By tap type: lives that made their first hole since that day."""
    new = func.sum(case((TapLife.number == Tap.regrinds, 1), else_=0))
    query = (
        select(Tap.tap_type_id, func.count(), new)
        .join(Tap, Tap.id == TapLife.tap_id)
        .where(TapLife.first_at >= since)
        .group_by(Tap.tap_type_id)
    )
    return {tap_type: Begun(lives, new) for tap_type, lives, new in session.execute(query)}
