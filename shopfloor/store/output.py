"""What was made, by day and in all, and the crib's stock: sums that the database itself keeps by triggers.

Whoever stores, supersedes or cancels a run or a movement, the sums follow in the same transaction; nothing else writes
to them but `queries.output.recount`. A row may go down to 0 and stays. They have no foreign keys: 0 means that no
station or no job was stated.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped, mapped_column

from shopfloor.store.base import Base


class Output:
    """What one job made with one type of tap, in one material, at one spindle speed; 0 holes: nothing is left of it.

    `slip_holes` are the holes of runs that recorded slips. `judged_slips` and `judged_holes` are of those runs in which
    the clutch did not end each hole: where it does, it always slips, and that says nothing of the tap.
    """

    job_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    tap_type_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    material_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    rpm: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    runs: Mapped[int]
    holes: Mapped[int]
    breaks: Mapped[int]
    cutting_slips: Mapped[int]
    slip_holes: Mapped[int]
    judged_slips: Mapped[int]
    judged_holes: Mapped[int]


class DailyOutput(Output, Base):
    """The output of one day (in UTC) at one station."""

    __tablename__ = "daily_output"

    day: Mapped[date] = mapped_column(primary_key=True, sort_order=-2)
    station_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False, sort_order=-1)


class TotalOutput(Output, Base):
    """The output of the whole log."""

    __tablename__ = "total_output"


class CribStock(Base):
    """The crib's balance of one tap type: movements that count, and what they leave in stock."""

    __tablename__ = "crib_stock"

    tap_type_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    movements: Mapped[int]
    on_hand: Mapped[int]


class MarkedInCrib(Base):
    """A tap with a code of its own that is in the crib by its newest movement."""

    __tablename__ = "marked_in_crib"

    tap_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    tap_type_id: Mapped[int]


KEPT_BY_TRIGGERS = tuple(table.__tablename__ for table in (DailyOutput, TotalOutput, CribStock, MarkedInCrib))
"""Whoever fills a database with copied rows fills these last, and empties them before."""
