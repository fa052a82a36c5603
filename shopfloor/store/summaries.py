"""Summary tables, for speed: every tap's lives, their stretches and its failed gauge checks, derived from the log.

A migration that adds a column leaves it empty; `shopfloor upgrade` then derives all lives anew.
"""

from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from shopfloor.core.vocabulary import HoleMaking, Lubricant, Mode, TapState
from shopfloor.store.base import LONGEST_CODE, Base, UtcTime, words


class ObservationColumns:
    """What a life, or a stretch of it, tells the statistics; `lower` is NULL if it cannot be used."""

    entry: Mapped[int | None]
    lower: Mapped[int | None]
    upper: Mapped[int | None]
    mode: Mapped[Mode | None] = mapped_column(words(Mode, "mode"))


class TapLife(ObservationColumns, Base):
    """One life of one tap; `number` counts its regrinds. The highest number is the present life."""

    __tablename__ = "tap_life"

    tap_id: Mapped[int] = mapped_column(ForeignKey("tap.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    is_present: Mapped[bool]
    first_entry: Mapped[int | None]
    holes: Mapped[int]
    cutting_slips: Mapped[int]
    runs: Mapped[int]
    state: Mapped[TapState] = mapped_column(words(TapState, "state"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("station.id"))
    placed_at: Mapped[datetime | None] = mapped_column(UtcTime)
    first_at: Mapped[datetime | None] = mapped_column(UtcTime)
    last_at: Mapped[datetime | None] = mapped_column(UtcTime)

    __table_args__ = (
        Index("ix_tap_life_station", "station_id", "placed_at"),
        Index("ix_tap_life_first_at", "first_at"),
    )


class LifeStretch(ObservationColumns, Base):
    """Consecutive holes of one life under the same cutting and hole conditions; NULL: not known.

    `tap_type_id` is that of the tap, so that stretches of a type are found by index.
    """

    __tablename__ = "life_stretch"

    tap_id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    ordinal: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    tap_type_id: Mapped[int | None]
    material_id: Mapped[int] = mapped_column(ForeignKey("material.id"))
    speed_band: Mapped[str] = mapped_column(String(LONGEST_CODE))
    is_blind: Mapped[bool | None]
    hole_making: Mapped[HoleMaking | None] = mapped_column(words(HoleMaking, "hole_making"))
    lubricant: Mapped[Lubricant | None] = mapped_column(words(Lubricant, "lubricant"))
    depth_mm: Mapped[float | None]
    start: Mapped[int]
    end: Mapped[int]
    cutting_slips: Mapped[int]
    slip_holes: Mapped[int]
    breaks: Mapped[int]
    runs: Mapped[int]
    first_at: Mapped[datetime] = mapped_column(UtcTime)
    last_at: Mapped[datetime] = mapped_column(UtcTime)

    __table_args__ = (
        ForeignKeyConstraint(
            ["tap_id", "number"], ["tap_life.tap_id", "tap_life.number"], name="fk_life_stretch_tap_life"
        ),
        Index("ix_life_stretch_condition", "material_id", "speed_band"),
        Index("ix_life_stretch_last_at", "last_at"),
        Index("ix_life_stretch_type", "tap_type_id", "material_id", "speed_band", "mode"),
    )


class GaugeFailure(Base):
    """A failed gauge check that counts, by the first ids of its versions.

    `opened_by` is the check that opened the incident: itself, unless an earlier one had found the same.
    """

    __tablename__ = "gauge_failure"

    check_id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    opened_by: Mapped[uuid.UUID]
    tap_id: Mapped[int] = mapped_column(ForeignKey("tap.id"), index=True)
    failed_at: Mapped[datetime] = mapped_column(UtcTime, index=True)
