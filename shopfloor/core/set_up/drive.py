"""What a station can drive: its speeds and torque at the tap, compared with what a tap needs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.set_up.materials import WorkMaterial
from shopfloor.core.set_up.torque import tap_torque
from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.series import Designation
from shopfloor.core.vocabulary import Chamfer, IsoGroup, StationKind, TapStyle

_SERIES = (
    "#0-80", "#2-56", "#4-40", "#6-32", "#8-32", "#10-24", "1/4-20", "5/16-18", "3/8-16", "7/16-14", "1/2-13",
    "9/16-12", "5/8-11", "3/4-10", "7/8-9", "1-8", "1 1/8-7", "1 1/4-7", "1 3/8-6", "1 1/2-6",
)  # fmt: skip
COARSE_INCH: tuple[Designation, ...] = tuple(parse(name) for name in _SERIES)
"""The coarse series by which the size of a station is stated (ASME B1.1)."""


@dataclass(frozen=True)
class StationDrive:
    """The machine that turns the tap, as far as the set-up card needs it. None: not known."""

    kind: StationKind | None = None
    rpm_low: float | None = None
    rpm_high: float | None = None
    torque_nm: float | None = None
    """At the spindle, before a reducer."""
    reducer_ratio: float = 1.0
    """Turns of the spindle for one turn of the tap."""
    largest_mm: Mapping[IsoGroup, float] = field(default_factory=dict)
    """Largest major diameter by ISO 513 group, as the machine's maker or the shop says."""

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        for name in ("rpm_low", "rpm_high", "torque_nm", "reducer_ratio"):
            value = getattr(self, name)
            if value is not None and not (value > 0 and math.isfinite(value)):
                raise InputError.of(
                    f"station_{name}",
                    phrase("{value} is out of range", value=rounded(value)),
                    "give a number above 0",
                )
        if self.rpm_low is not None and self.rpm_high is not None and self.rpm_low > self.rpm_high:
            raise InputError.of("station_rpm", "the lower speed is above the higher", "write it like 25-500")

    @property
    def tap_rpm_low(self) -> float | None:
        """Slowest speed of the tap, 1/min."""
        return None if self.rpm_low is None else self.rpm_low / self.reducer_ratio

    @property
    def tap_rpm_high(self) -> float | None:
        """Fastest speed of the tap, 1/min."""
        return None if self.rpm_high is None else self.rpm_high / self.reducer_ratio

    @property
    def tap_torque_nm(self) -> float | None:
        """Torque at the tap; the losses of a reducer are left out."""
        return None if self.torque_nm is None else self.torque_nm * self.reducer_ratio


def margin(station: StationDrive, needed_nm: float) -> float | None:
    """The station's torque as a multiple of what the dull tap needs; below 1 it stalls."""
    return None if station.tap_torque_nm is None else station.tap_torque_nm / needed_nm


def largest_thread(
    torque_nm: float,
    material: WorkMaterial,
    style: TapStyle = TapStyle.STRAIGHT_FLUTE,
    series: Sequence[Designation] = COARSE_INCH,
) -> Designation | None:
    """The largest thread of a series that a torque can drive with a dull tap in the usual hole; None: none of them.

    Parameters
    ----------
    torque_nm : float          at the tap, N m
    material : WorkMaterial
    style : TapStyle
    series : sequence          threads in order of size
    """
    fits = [
        t
        for t in series
        if tap_torque(material, t.major_mm, t.pitch_mm, None, style, Chamfer.PLUG).dull_nm <= torque_nm
    ]
    return max(fits, key=lambda thread: thread.major_mm, default=None)


def largest_mm(station: StationDrive, material: WorkMaterial, style: TapStyle) -> float | None:
    """Largest major diameter for the station in this material, mm: as stated, else calculated from its torque.

    Parameters
    ----------
    station : StationDrive
    material : WorkMaterial
    style : TapStyle           for the calculation

    Returns
    -------
    float or None    None where neither is known; 0 where the torque drives no standard thread
    """
    if material.group in station.largest_mm:
        return station.largest_mm[material.group]
    if station.tap_torque_nm is None:
        return None
    thread = largest_thread(station.tap_torque_nm, material, style)
    return 0.0 if thread is None else thread.major_mm
