"""The crib's ledger, and the use of taps according to the log, as values."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Subquery, and_, case, exists, func, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import COMES_IN, MovementKind
from shopfloor.store import Job, Person, Run, Station, StockMovement, Tap, TapLife, TapType
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
class JobUse:
    """Holes that one job made with one tap type: all, and those since a day; the runs' material and mean speed."""

    job: int | None
    material: int
    tap_type: int
    holes: int
    lately: int
    rpm: float


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
    booked = (
        select(StockMovement.tap_type_id, func.sum(StockMovement.quantity).label("sum"), func.count().label("count"))
        .where(counts(StockMovement))
        .group_by(StockMovement.tap_type_id)
        .subquery()
    )
    used = (
        select(Tap.tap_type_id, func.count().label("count"))
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(IN_USE)
        .group_by(Tap.tap_type_id)
        .subquery()
    )
    newest = _newest_movements()
    marked = (
        select(newest.c.tap_type_id, func.count().label("count"))
        .where(newest.c.place == 1, newest.c.kind.in_(COMES_IN))
        .group_by(newest.c.tap_type_id)
        .subquery()
    )
    query = (
        select(
            TapType.id, TapType.code, TapType.supplier, TapType.unit_cost, TapType.lead_time_days,
            func.coalesce(booked.c.sum, 0), func.coalesce(booked.c.count, 0), func.coalesce(used.c.count, 0),
            func.coalesce(marked.c.count, 0),
        )
        .outerjoin(booked, booked.c.tap_type_id == TapType.id)
        .outerjoin(used, used.c.tap_type_id == TapType.id)
        .outerjoin(marked, marked.c.tap_type_id == TapType.id)
        .order_by(TapType.code)
    )  # fmt: skip
    return [Shelf(*row) for row in session.execute(query)]


def balance_of(session: Session, tap_type: int) -> int:
    """Taps of this type that the ledger says are in the crib."""
    booked = select(func.coalesce(func.sum(StockMovement.quantity), 0))
    return session.scalar(booked.where(StockMovement.tap_type_id == tap_type, counts(StockMovement))) or 0


def marked_in_crib(session: Session, tap_type: int) -> list[str]:
    """Codes of the taps of this type that the ledger has in the crib."""
    newest = _newest_movements()
    codes = select(Tap.code).join(newest, newest.c.tap_id == Tap.id)
    there = codes.where(newest.c.place == 1, newest.c.kind.in_(COMES_IN), newest.c.tap_type_id == tap_type)
    return list(session.scalars(there.order_by(Tap.code)))


def _newest_movements() -> Subquery:
    """Movements that count of taps with a code; `place` 1 is each tap's newest."""
    order = [StockMovement.moved_at.desc(), StockMovement.recorded_at.desc()]
    place = func.row_number().over(partition_by=StockMovement.tap_id, order_by=order).label("place")
    columns = (StockMovement.tap_id, StockMovement.tap_type_id, StockMovement.kind, place)
    return select(*columns).where(StockMovement.tap_id.is_not(None), counts(StockMovement)).subquery()


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


def job_uses(session: Session, since: datetime) -> list[JobUse]:
    """Holes by job, material and tap type over the whole log and since a day; a broken tap's holes end at the break."""
    lately = func.coalesce(func.sum(case((Run.ended_at >= since, Run.holes_made))), 0)
    query = (
        select(Run.job_id, Run.material_id, Tap.tap_type_id, func.sum(Run.holes_made), lately, func.avg(Run.rpm))
        .join(Tap, Tap.id == Run.tap_id)
        .where(counts(Run))
        .group_by(Run.job_id, Run.material_id, Tap.tap_type_id)
    )
    # PostgreSQL returns a mean of integers as a Decimal, which cannot be multiplied by a float.
    rows = session.execute(query)
    return [JobUse(job, material, kind, holes, late, float(rpm)) for job, material, kind, holes, late, rpm in rows]


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
