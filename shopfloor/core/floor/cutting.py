"""Cutting speed, and the conditions by which tap life is compared: tap type, material and band of speed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import Measurement, Phrase, Quantity, phrase, rounded
from shopfloor.core.units import MM_PER_INCH

Numbers = TypeVar("Numbers", float, NDArray[np.float64])
"""One number, or an array of numbers; beside an array the other arguments may be single numbers."""

_R5 = (1.0, 1.6, 2.5, 4.0, 6.3)
_M_PER_FOOT = 12 * MM_PER_INCH / 1000
M_MIN, RPM = "m/min", "rpm"


def surface_speed_m_min(diameter_mm: Numbers, rpm: float | Numbers) -> Numbers:
    """Surface speed of a tap's outside diameter, in m/min.

    Parameters
    ----------
    diameter_mm : float or array    major diameter, mm
    rpm : float or array            spindle speed, 1/min

    References
    ----------
    Definition of cutting speed, v = pi d n / 1000 (ISO 3002-1).

    Examples
    --------
    >>> round(surface_speed_m_min(10, 250), 2)
    7.85
    """
    return math.pi * diameter_mm * rpm / 1000


def spindle_speeds(low_rpm: int, high_rpm: int) -> Phrase:
    """A station's range of speeds as screens and messages write it: '25 to 500 rpm', '350 rpm (fixed)'."""
    if low_rpm == high_rpm:
        return phrase("{rpm} rpm (fixed)", rpm=str(low_rpm))
    return phrase("{low} to {high} rpm", low=str(low_rpm), high=str(high_rpm))


def rpm_for(diameter_mm: Numbers, speed_m_min: float | Numbers) -> Numbers:
    """Spindle speed that gives a tap the surface speed, in 1/min; the inverse of `surface_speed_m_min`.

    Examples
    --------
    >>> round(rpm_for(10, 10), 1)
    318.3
    """
    return 1000 * speed_m_min / (math.pi * diameter_mm)


def surface_speed_ft_min(diameter_in: Numbers, rpm: float | Numbers) -> Numbers:
    """Surface speed in ft/min of a tap whose major diameter is given in inches."""
    return math.pi * diameter_in * rpm / 12


def rpm_for_ft_min(diameter_in: Numbers, speed_ft_min: float | Numbers) -> Numbers:
    """Spindle speed for a surface speed in ft/min and a diameter in inches: 12 V / (pi D), exact.

    Shops write 3.82 V / D, which is the same, or 4 V / D, which is 4.7 % faster.
    """
    return 12 * speed_ft_min / (math.pi * diameter_in)


def m_min_from_ft_min(speed_ft_min: Numbers) -> Numbers:
    """The speed in m/min."""
    return speed_ft_min * _M_PER_FOOT


def ft_min_from_m_min(speed_m_min: Numbers) -> Numbers:
    """The speed in ft/min."""
    return speed_m_min / _M_PER_FOOT


def feed_mm_min(pitch_mm: Numbers, rpm: float | Numbers) -> Numbers:
    """Feed rate of a tap, in mm/min: its pitch with every turn."""
    return pitch_mm * rpm


@dataclass(frozen=True, order=True)
class SpeedBand:
    """Speeds from `low` up to but not including `high`, in m/min, or in rpm where the tap's diameter is not known."""

    unit: str
    low: float
    high: float

    @property
    def label(self) -> str:
        """The band as screens and tables write it, for example '6.3-10 m/min'."""
        return f"{_plain(self.low)}-{_plain(self.high)} {self.unit}"

    @property
    def told(self) -> str:
        """The band for a page, which writes it in its own units."""
        return (
            Measurement.of(self.label, Quantity.SPEED_BAND, self.low, self.high) if self.unit == M_MIN else self.label
        )

    @classmethod
    def parse(cls, label: str) -> SpeedBand:
        """The band that `label` names; the inverse of `label`."""
        try:
            limits, unit = label.split(" ")
            low, high = limits.split("-")
            return cls(unit, float(low), float(high))
        except ValueError:
            raise InputError.of(
                "speed band", phrase("'{label}' is not a speed band", label=label), "write it like 6.3-10 m/min"
            ) from None


def _plain(number: float) -> str:
    """The number without a power of ten, however small."""
    return f"{number:.10f}".rstrip("0").rstrip(".")


@lru_cache(maxsize=4096)
def speed_band(rpm: float, diameter_mm: float | None) -> SpeedBand:
    """The band of a run's speed: by surface speed, or by rpm where the diameter is not known.

    The edges are the R5 series of preferred numbers (ISO 3): 1, 1.6, 2.5, 4, 6.3, 10, ... Steps of 1.6 are wide enough
    to hold several taps and narrow enough for Taylor's power law to matter between bands.
    """
    if diameter_mm is None:
        return _r5_band(RPM, rpm)
    return _r5_band(M_MIN, surface_speed_m_min(diameter_mm, rpm))


def _r5_band(unit: str, speed: float) -> SpeedBand:
    if not speed > 0:
        raise InputError.of("rpm", phrase("{speed} is not a speed", speed=rounded(speed)), "give a number above 0")
    decade = math.floor(math.log10(speed))
    edges = [base * 10.0**d for d in (decade - 1, decade, decade + 1) for base in _R5]
    # Rounding keeps 1.6 * 10 equal to 16, so that labels stay clean.
    edges = [float(f"{edge:.3g}") for edge in edges]
    low = max(edge for edge in edges if edge <= speed)
    return SpeedBand(unit, low, edges[edges.index(low) + 1])


@dataclass(frozen=True)
class CuttingConditions:
    """Which tap type cuts what, and how fast: type and material by their keys, the speed by the label of its band.

    None where all materials, or all speeds, are taken together.
    """

    tap_type: int
    material: int | None = None
    speed_band: str | None = None

    def widened(self) -> tuple[CuttingConditions, ...]:
        """These conditions, then ever wider ones: any speed, any material."""
        wider = (self, CuttingConditions(self.tap_type, self.material), CuttingConditions(self.tap_type))
        return tuple(dict.fromkeys(wider))
