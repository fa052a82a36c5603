"""A small shop to test in: one factory a thing, sensible defaults; a test names only what matters."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Role, StationKind, TapEnd, TapStyle
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import Job, Material, Person, PersonRole, Station, Tap, TapType

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that stands until it is moved."""

    now: datetime = NOON

    def __call__(self) -> datetime:
        """The time it shows."""
        return self.now

    def move(self, **by: float) -> None:
        """Let time pass."""
        self.now += timedelta(**by)


@dataclass
class Shop:
    """A database with two of everything, and a clock."""

    work: Work
    clock: Clock

    def entry(self, **changes: Any) -> RunEntry:
        """A run of 48 good holes with tap T1, ended now."""
        values: dict[str, Any] = {
            "id": uuid.uuid4(),
            "ended_at": self.clock(),
            "tap": "T1",
            "rpm": 250,
            "holes": 48,
            "tap_end": TapEnd.STILL_GOOD,
            "person": "ada",
            "station": "arm",
            "job": "J1",
            "cutting_slips": 0,
        }
        return RunEntry(**{**values, **changes})


def open_shop(database: str, data_folder: Path) -> Shop:
    """A small shop in a migrated, empty database."""
    shop = reopen_shop(database, data_folder)
    with shop.work.write() as session:
        steel = Material(code="steel", name="Structural steel", iso_group=IsoGroup.P, hardness_hb=150)
        stainless = Material(code="stainless", name="Stainless steel", iso_group=IsoGroup.M, hardness_hb=200)
        kind = TapType(
            code="M8 SP",
            thread="M8",
            style=TapStyle.SPIRAL_POINT,
            supplier="Supplier North",
            unit_cost=Decimal(18),
            lead_time_days=14,
        )
        other = TapType(code="1/2-13 SP", thread="1/2-13", style=TapStyle.SPIRAL_POINT, lead_time_days=10)
        session.add_all([steel, stainless, kind, other])
        session.add(Station(code="arm", name="Arm 1", kind=StationKind.ELECTRIC_ARM, rpm_min=25, rpm_max=500))
        session.add(Station(code="air", name="Air arm", kind=StationKind.AIR_ARM, rpm_min=350, rpm_max=350))
        session.add(Person(code="ada", name="Ada K.", roles=[PersonRole(role=Role.OPERATOR)]))
        session.add(Person(code="bo", name="Bo L.", roles=[PersonRole(role=Role.CRIB)]))
        session.flush()
        job: dict[str, Any] = {"holes_per_part": 4, "depth_mm": 16, "is_blind": False, "planned_rpm": 250}
        job |= {"hole_making": HoleMaking.DRILLED, "planned_quantity": 50, "due_on": (NOON + timedelta(days=9)).date()}
        session.add(Job(code="J1", part="Bracket", material=steel, thread="M8", **job))
        session.add(Job(code="J2", part="Flange", material=stainless, thread="M8", **job))
        session.add(Job(code="J3", part="Plate", material=steel, thread="1/2-13", **job))
        session.add_all(
            [Tap(code=code, tap_type_id=kind.id, regrinds=0, holes_before=0) for code in ("T1", "T2", "T3")]
        )
        session.add(Tap(code="B1", tap_type_id=other.id, regrinds=0, holes_before=0))
    rebuild(shop.work)
    return shop


def reopen_shop(database: str, data_folder: Path, now: datetime = NOON) -> Shop:
    """The shop that a database holds already, with a clock of its own."""
    clock = Clock(now)
    return Shop(Work.on(Settings(database=database, data_folder=data_folder), clock), clock)
