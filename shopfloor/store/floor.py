"""Tables of what happened: runs, gauge checks, incidents of breaks and failed checks, photographs, movements and more.

All are append-only: the database refuses to change or delete a row. A correction is a new row that supersedes the
old one, a cancellation is a row that names it; both keep who, when and why. A row counts if nothing supersedes or
cancels it (`queries.log.counts`).
"""

from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, ColumnElement, ForeignKey, Index, String, Text, func
from sqlalchemy.ext.hybrid import hybrid_property
from sqlalchemy.orm import Mapped, declared_attr, mapped_column

from shopfloor.core.floor.tap_lives import holes_made
from shopfloor.core.vocabulary import (
    Cause,
    DepthControl,
    GaugeResult,
    Lubricant,
    MovementKind,
    PartFate,
    TapEnd,
)
from shopfloor.store.base import LONGEST_CODE, Base, UtcTime, words

APPEND_ONLY = ("run", "gauge_check", "incident", "gauge_incident", "photograph", "stock_movement", "cancellation")

_SHA256_DIGITS = 64


class Recorded:
    """Columns of every append-only row: its id, made by the client, when it was stored, and by whom."""

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    recorded_at: Mapped[datetime] = mapped_column(UtcTime)
    device_time: Mapped[str | None] = mapped_column(String(LONGEST_CODE))

    @declared_attr
    def recorded_by_id(cls) -> Mapped[int | None]:  # noqa: N805 - SQLAlchemy hands over the class
        """Who stored the row; NULL for an import."""
        return mapped_column(ForeignKey("person.id"))


class Run(Recorded, Base):
    """One tap's share of a batch.

    Runs of a tap are ordered by when they ended, then by `position`, which corrections keep. `slip_holes`, as
    '3 17 17', is the hole of each cutting slip, where holes were counted live. `confirmed`, as 'holes rpm', names the
    numbers that were asked back when they were typed.
    """

    __tablename__ = "run"

    original_id: Mapped[uuid.UUID] = mapped_column(index=True)
    supersedes_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("run.id"), unique=True)
    reason: Mapped[str | None] = mapped_column(Text)
    position: Mapped[int] = mapped_column(BigInteger)
    batch_id: Mapped[uuid.UUID | None]
    ended_at: Mapped[datetime] = mapped_column(UtcTime)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("station.id"))
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"))
    tap_id: Mapped[int] = mapped_column(ForeignKey("tap.id"), index=True)
    material_id: Mapped[int] = mapped_column(ForeignKey("material.id"))
    rpm: Mapped[int]
    holes: Mapped[int]
    cutting_slips: Mapped[int | None]
    slip_holes: Mapped[str | None] = mapped_column(Text)
    depth_control: Mapped[DepthControl | None] = mapped_column(words(DepthControl, "depth_control"))
    lubricant: Mapped[Lubricant | None] = mapped_column(words(Lubricant, "lubricant"))
    tap_end: Mapped[TapEnd] = mapped_column(words(TapEnd, "tap_end"))
    broke_at_hole: Mapped[int | None]
    part_fate: Mapped[PartFate | None] = mapped_column(words(PartFate, "part_fate"))
    note: Mapped[str | None] = mapped_column(Text)
    confirmed: Mapped[str | None] = mapped_column(String(LONGEST_CODE))

    __table_args__ = (
        CheckConstraint("holes > 0", name="holes"),
        CheckConstraint("rpm > 0", name="rpm"),
        CheckConstraint("cutting_slips >= 0", name="cutting_slips"),
        CheckConstraint(
            "broke_at_hole IS NULL OR (tap_end = 'broken' AND broke_at_hole BETWEEN 1 AND holes)", name="broke_at_hole"
        ),
        CheckConstraint("(supersedes_id IS NULL) = (original_id = id)", name="original"),
        CheckConstraint("supersedes_id IS NULL OR reason IS NOT NULL", name="reason"),
        Index("ix_run_station_ended", "station_id", "ended_at"),
        Index("ix_run_station_person_ended", "station_id", "person_id", "ended_at"),
        Index("ix_run_job_ended", "job_id", "ended_at"),
        Index("ix_run_job_station_ended", "job_id", "station_id", "ended_at"),
        Index("ix_run_ended_at", "ended_at"),
        Index("ix_run_recorded_at", "recorded_at"),
    )

    @hybrid_property
    def holes_made(self) -> int:
        """Holes that the tap made in the run."""
        return holes_made(self.holes, self.broke_at_hole)

    @holes_made.inplace.expression
    @classmethod
    def _holes_made(cls) -> ColumnElement[int]:
        return func.coalesce(cls.broke_at_hole, cls.holes)


class GaugeCheck(Recorded, Base):
    """A GO/NO-GO check of the thread that a tap cuts."""

    __tablename__ = "gauge_check"

    supersedes_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("gauge_check.id"), unique=True)
    reason: Mapped[str | None] = mapped_column(Text)
    checked_at: Mapped[datetime] = mapped_column(UtcTime)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    tap_id: Mapped[int] = mapped_column(ForeignKey("tap.id"), index=True)
    result: Mapped[GaugeResult] = mapped_column(words(GaugeResult, "result"))
    note: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index("ix_gauge_check_recorded_at", "recorded_at"),)


class Incident(Recorded, Base):
    """The incident of a broken tap. `run_id` is the run's first id, so that it survives corrections of the run."""

    __tablename__ = "incident"

    supersedes_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("incident.id"), unique=True)
    reason: Mapped[str | None] = mapped_column(Text)
    run_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("run.id"), index=True)
    reported_at: Mapped[datetime] = mapped_column(UtcTime)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    cause: Mapped[Cause] = mapped_column(words(Cause, "cause"))
    account: Mapped[str | None] = mapped_column(Text)


class GaugeIncident(Recorded, Base):
    """Why a tap failed the gauge, as far as known. `check_id` is the check's first id, so that it survives corrections.

    That it failed, and which runs are suspect, is not stored here: it follows from the log.
    """

    __tablename__ = "gauge_incident"

    supersedes_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("gauge_incident.id"), unique=True)
    reason: Mapped[str | None] = mapped_column(Text)
    check_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("gauge_check.id"), index=True)
    cause: Mapped[Cause] = mapped_column(words(Cause, "cause"))
    account: Mapped[str | None] = mapped_column(Text)


class Photograph(Recorded, Base):
    """A photograph of a broken tap, whose file lies beside the database under its id.

    `run_id` is the run's first id. `size` (bytes) and `sha256` are those of the stored file, `sent_sha256` is that of
    what the tablet sent, by which a photograph sent again is recognised.
    """

    __tablename__ = "photograph"

    run_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("run.id"), index=True)
    size: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(_SHA256_DIGITS))
    sent_sha256: Mapped[str] = mapped_column(String(_SHA256_DIGITS))

    __table_args__ = (CheckConstraint("size > 0", name="size"),)


class StockMovement(Recorded, Base):
    """A change of stock. `quantity` is what the crib's stock of ready taps gains (or, negative, loses)."""

    __tablename__ = "stock_movement"

    supersedes_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("stock_movement.id"), unique=True)
    reason: Mapped[str | None] = mapped_column(Text)
    moved_at: Mapped[datetime] = mapped_column(UtcTime)
    kind: Mapped[MovementKind] = mapped_column(words(MovementKind, "kind"))
    tap_type_id: Mapped[int] = mapped_column(ForeignKey("tap_type.id"), index=True)
    tap_id: Mapped[int | None] = mapped_column(ForeignKey("tap.id"), index=True)
    quantity: Mapped[int]
    station_id: Mapped[int | None] = mapped_column(ForeignKey("station.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    note: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index("ix_stock_movement_recorded_at", "recorded_at"),)


class Cancellation(Base):
    """An entry that no longer counts: which, why, by whom, when."""

    __tablename__ = "cancellation"

    entry_id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    entry_table: Mapped[str] = mapped_column(String(LONGEST_CODE))
    cancelled_at: Mapped[datetime] = mapped_column(UtcTime, index=True)
    cancelled_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    reason: Mapped[str] = mapped_column(Text)

    __table_args__ = (
        CheckConstraint(
            "entry_table IN ('run','gauge_check','incident','stock_movement','photograph')", name="entry_table"
        ),
    )
