"""One frozen row per table of the log, as the simulator makes them and the CSV files hold them.

Rows refer to each other by code. Times are UTC and aware.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopfloor.core.vocabulary import (
    Cause,
    Chamfer,
    DepthControl,
    GaugeResult,
    HoleMaking,
    IsoGroup,
    Lubricant,
    MovementKind,
    PartFate,
    Role,
    StationKind,
    Substrate,
    TapEnd,
    TapStyle,
)


@dataclass(frozen=True)
class TapType:
    """A kind of tap that the crib orders."""

    code: str
    thread: str
    style: TapStyle
    chamfer: Chamfer
    substrate: Substrate
    coating: str
    supplier: str
    unit_cost: Decimal
    lead_time_days: int
    bin: str


@dataclass(frozen=True)
class Tap:
    """One tap. `holes_before` counts the holes on it when first seen: 0 none, None unknown."""

    code: str
    tap_type: str
    lot: str | None
    regrinds: int
    holes_before: int | None
    received_at: datetime


@dataclass(frozen=True)
class Material:
    """A work material with its ISO 513 group and Brinell hardness."""

    code: str
    name: str
    iso_group: IsoGroup
    hardness_hb: int


@dataclass(frozen=True)
class Station:
    """What turns the tap, its speeds, and what it can drive; None if not known."""

    code: str
    name: str
    kind: StationKind
    rpm_min: int
    rpm_max: int
    torque_nm: float | None = None
    largest_p: str | None = None
    largest_m: str | None = None
    largest_n: str | None = None


@dataclass(frozen=True)
class Person:
    """Somebody who works in the shop."""

    code: str
    name: str
    roles: tuple[Role, ...]


@dataclass(frozen=True)
class Job:
    """A part number with everything about its tapped holes; `planned_quantity` counts parts.

    `drilled_mm` and `drill_depth_mm` describe the hole before tapping, the latter for blind holes only.
    """

    code: str
    part: str
    material: str
    thread: str
    holes_per_part: int
    depth_mm: float
    is_blind: bool
    hole_making: HoleMaking
    drilled_mm: float
    drill_depth_mm: float | None
    is_chamfered: bool
    is_reamed: bool
    planned_quantity: int
    due_on: date
    planned_rpm: int
    is_open: bool


@dataclass(frozen=True)
class Run:
    """One tap's share of a batch.

    `holes` of a run that broke at a known hole is that hole; if the hole is not known, `holes` is the most that the
    tap can have made and `broke_at_hole` is None.
    """

    id: uuid.UUID
    ended_at: datetime
    device_time: str
    person: str
    station: str
    job: str
    tap: str
    material: str
    rpm: int
    holes: int
    cutting_slips: int
    depth_control: DepthControl
    lubricant: Lubricant
    tap_end: TapEnd
    broke_at_hole: int | None
    part_fate: PartFate | None
    note: str
    batch_id: uuid.UUID
    recorded_at: datetime


@dataclass(frozen=True)
class Correction:
    """A run that replaces the one logged as `run_id`; `corrected` has its own id and the same batch."""

    run_id: uuid.UUID
    corrected: Run
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Cancellation:
    """A logged run that does not count, and why."""

    run_id: uuid.UUID
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class GaugeCheck:
    """A GO/NO-GO check of the thread that a tap cuts."""

    id: uuid.UUID
    checked_at: datetime
    person: str
    tap: str
    result: GaugeResult
    note: str


@dataclass(frozen=True)
class Incident:
    """The incident of a broken tap; what became of the part is in the run."""

    id: uuid.UUID
    run_id: uuid.UUID
    reported_at: datetime
    person: str
    cause: Cause
    account: str


@dataclass(frozen=True)
class Movement:
    """A change of stock. `quantity` is what the crib's stock of ready taps gains or, negative, loses.

    What happens to a tap while it is at a station (scrapped, lost, sent to regrind) does not change that stock: 0. A
    count's quantity is the difference found.
    """

    id: uuid.UUID
    moved_at: datetime
    kind: MovementKind
    tap_type: str
    tap: str | None
    quantity: int
    station: str | None
    person: str
    note: str
