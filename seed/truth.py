"""The truth behind the log: how long taps last and how often they slip, by tap, material, speed and circumstances.

Every life is two competing Weibull lives, wear and break, whose scale (in holes) is the material's, times factors.
Taps differ by a frailty that multiplies both lives. The figures are our own choice, in the range of common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from seed import shop
from seed.rows import TapType
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import HoleMaking, StationKind, TapStyle, Word


@dataclass(frozen=True)
class TrueWeibull:
    """A Weibull life in holes: 63.2 % have failed by `scale`."""

    shape: float
    scale: float


@dataclass(frozen=True)
class TrueLife:
    """The two competing lives of one tap in one condition."""

    wear: TrueWeibull
    breakage: TrueWeibull


@dataclass(frozen=True)
class StyleTruth:
    """The effect of the flute style: both shapes, and factors on both scales."""

    wear_shape: float
    break_shape: float
    wear_factor: float
    break_factor: float


@dataclass(frozen=True)
class MaterialTruth:
    """What a material does to an uncoated 8 mm spiral point tap at the reference speed; scales in holes."""

    wear_scale: float
    break_scale: float
    reference_speed_m_min: float
    cutting_slips_per_hole: float


@dataclass(frozen=True)
class Circumstances:
    """What shortens lives besides tap, material and speed. By default nothing does."""

    is_laser_cut: bool = False
    is_misaligned: bool = False
    is_dry: bool = False
    is_bad_lot: bool = False
    regrinds: int = 0


PLAIN = Circumstances()


@dataclass(frozen=True)
class Factor:
    """What a circumstance multiplies both scales by."""

    wear: float
    breakage: float


_STYLES = {
    TapStyle.SPIRAL_POINT: StyleTruth(3.2, 1.6, 1.0, 1.0),
    TapStyle.SPIRAL_FLUTE: StyleTruth(2.8, 1.4, 0.95, 0.8),
    TapStyle.STRAIGHT_FLUTE: StyleTruth(3.0, 1.5, 0.95, 0.9),
    TapStyle.FORMING: StyleTruth(3.6, 1.9, 1.2, 1.3),
}

_MATERIALS = {
    shop.STRUCTURAL: MaterialTruth(530, 1000, 8, 0.015),
    shop.FREE_CUTTING: MaterialTruth(760, 1500, 12, 0.010),
    shop.ALLOY: MaterialTruth(370, 620, 6, 0.030),
    shop.STAINLESS: MaterialTruth(250, 480, 4.5, 0.045),
    shop.CAST_IRON: MaterialTruth(680, 1500, 9, 0.010),
    shop.ALUMINIUM: MaterialTruth(1600, 3000, 18, 0.005),
    shop.BRASS: MaterialTruth(1500, 4000, 18, 0.003),
}

_SLIPS_BY_STATION = {
    StationKind.ELECTRIC_ARM: 1.0,
    StationKind.AIR_ARM: 1.2,
    StationKind.DRILL_PRESS: 0.8,
    StationKind.MACHINING_CENTRE: 0.3,
    StationKind.HAND_WRENCH: 0.0,
}


@dataclass(frozen=True)
class Truth:
    """Every parameter of the simulator that an estimate from the log could recover."""

    styles: Mapping[TapStyle, StyleTruth] = field(default_factory=lambda: dict(_STYLES))
    materials: Mapping[str, MaterialTruth] = field(default_factory=lambda: dict(_MATERIALS))
    wear_speed_exponent: float = 1.6
    break_speed_exponent: float = 1.5
    slowest_share_of_reference: float = 0.65
    """Below this share of the reference speed, going slower gains nothing more."""
    break_diameter_exponent: float = 0.5
    reference_diameter_mm: float = 8.0
    coated: Factor = Factor(1.2, 1.05)
    supplier_delta: Factor = Factor(0.9, 0.95)
    laser_cut: Factor = Factor(0.6, 0.45)
    misaligned: Factor = Factor(0.95, 0.55)
    misaligned_station: str = shop.ARM_2
    dry: Factor = Factor(0.75, 0.7)
    bad_lot: Factor = Factor(0.7, 0.35)
    bad_lot_code: str = shop.BAD_LOT
    each_regrind: Factor = Factor(0.8, 0.85)
    frailty_sd: float = 0.25
    """Standard deviation of the log of a tap's frailty; its mean is 1."""
    slips_at_end_of_life: float = 10.0
    """Cutting slips per hole at the end of a life, as a multiple of those of a fresh tap."""
    slips_laser_factor: float = 2.0
    slips_by_station: Mapping[StationKind, float] = field(default_factory=lambda: dict(_SLIPS_BY_STATION))
    bottoming_slips_per_hole: float = 1.0
    """In blind holes driven to the bottom on the clutch; the log does not ask for them."""
    sudden_break_share: float = 0.25
    """Share of taps that break without warning by slips."""
    unknown_break_hole: float = 0.05
    unknown_break_hole_uncounted: float = 0.6
    uncounted_station: str = shop.AIR
    """The station without a counter, where the hole of a break is usually not known."""

    def life(
        self, tap_type: TapType, material: str, surface_speed_m_min: float, circumstances: Circumstances = PLAIN
    ) -> TrueLife:
        """The true lives of a tap of mean frailty, in holes, in one condition."""
        style, factor = self.styles[tap_type.style], self._factor(tap_type, circumstances)
        stuff, pace = self.materials[material], self._relative_speed(material, surface_speed_m_min)
        wear = stuff.wear_scale * style.wear_factor * pace**-self.wear_speed_exponent
        breakage = stuff.break_scale * style.break_factor * pace**-self.break_speed_exponent
        size = (major_diameter_mm(tap_type.thread) / self.reference_diameter_mm) ** self.break_diameter_exponent
        return TrueLife(
            TrueWeibull(style.wear_shape, wear * factor.wear),
            TrueWeibull(style.break_shape, breakage * size * factor.breakage),
        )

    def fresh_slips_per_hole(self, material: str, station: str, hole_making: HoleMaking) -> float:
        """Cutting slips per hole of a fresh tap."""
        by_hole = self.slips_laser_factor if hole_making is HoleMaking.LASER else 1.0
        by_station = self.slips_by_station[shop.STATION[station].kind]
        return self.materials[material].cutting_slips_per_hole * by_station * by_hole

    def rise_of_slips(self, share_used: float) -> float:
        """Slip rate relative to a fresh tap's, by the share of life used up: slow, then steep."""
        return math.pow(self.slips_at_end_of_life, share_used**2)

    def as_json(self) -> dict[str, Any]:
        """All parameters as plain JSON values."""
        return {name: _with_plain_keys(value) for name, value in asdict(self).items()}

    def _relative_speed(self, material: str, surface_speed_m_min: float) -> float:
        relative = surface_speed_m_min / self.materials[material].reference_speed_m_min
        return max(relative, self.slowest_share_of_reference)

    def _factor(self, tap_type: TapType, circumstances: Circumstances) -> Factor:
        applying = [
            (self.coated, tap_type.coating == shop.COATED),
            (self.supplier_delta, tap_type.supplier == shop.DELTA),
            (self.laser_cut, circumstances.is_laser_cut),
            (self.misaligned, circumstances.is_misaligned),
            (self.dry, circumstances.is_dry),
            (self.bad_lot, circumstances.is_bad_lot),
            (self.each_regrind, circumstances.regrinds),
        ]
        wear = breakage = 1.0
        for factor, times in applying:
            wear *= factor.wear ** int(times)
            breakage *= factor.breakage ** int(times)
        return Factor(wear, breakage)


def _with_plain_keys(value: Any) -> Any:
    """A mapping with plain trade terms as keys instead of enum members."""
    if not isinstance(value, dict):
        return value
    return {key.value if isinstance(key, Word) else key: _with_plain_keys(inner) for key, inner in value.items()}
