"""Cutting speed, and the bands by which tap life is compared."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopfloor.core.errors import InputError

_R5 = (1.0, 1.6, 2.5, 4.0, 6.3)
M_MIN, RPM = "m/min", "rpm"


def surface_speed_m_min(diameter_mm: float, rpm: float) -> float:
    """Surface speed of a tap's outside diameter, in m/min.

    Parameters
    ----------
    diameter_mm : float    major diameter, mm
    rpm : float            spindle speed, 1/min

    References
    ----------
    Definition of cutting speed, v = pi d n / 1000 (ISO 3002-1).

    Examples
    --------
    >>> round(surface_speed_m_min(10, 250), 2)
    7.85
    """
    return math.pi * diameter_mm * rpm / 1000


def spindle_speeds(low_rpm: int, high_rpm: int) -> str:
    """The speeds that a station runs at, as screens and messages write them: '25 to 500 rpm', '350 rpm (fixed)'."""
    return f"{low_rpm} rpm (fixed)" if low_rpm == high_rpm else f"{low_rpm} to {high_rpm} rpm"


@dataclass(frozen=True, order=True)
class SpeedBand:
    """Speeds from `low` up to but without `high`, in m/min, or in rpm where the tap's diameter is not known."""

    unit: str
    low: float
    high: float

    @property
    def label(self) -> str:
        """The band as screens and tables write it, for example '6.3-10 m/min'."""
        return f"{_plain(self.low)}-{_plain(self.high)} {self.unit}"

    @classmethod
    def parse(cls, label: str) -> SpeedBand:
        """The band that `label` names; the inverse of `label`."""
        try:
            limits, unit = label.split(" ")
            low, high = limits.split("-")
            return cls(unit, float(low), float(high))
        except ValueError:
            raise InputError.of("speed band", f"'{label}' is no band", "write it like 6.3-10 m/min") from None


def _plain(number: float) -> str:
    """The number without a power of ten, however small."""
    return f"{number:.10f}".rstrip("0").rstrip(".")


def speed_band(rpm: float, diameter_mm: float | None) -> SpeedBand:
    """The band a run's speed falls in: by surface speed, or by rpm where the diameter is not known.

    The edges are the R5 series of preferred numbers (ISO 3): 1, 1.6, 2.5, 4, 6.3, 10, ... A step of 1.6 in speed is
    wide enough to gather taps and narrow enough for Taylor's power law to matter between bands.
    """
    if diameter_mm is None:
        return _r5_band(RPM, rpm)
    return _r5_band(M_MIN, surface_speed_m_min(diameter_mm, rpm))


def _r5_band(unit: str, speed: float) -> SpeedBand:
    if not speed > 0:
        raise InputError.of("rpm", f"{speed:g} is no speed", "give a number above 0")
    decade = math.floor(math.log10(speed))
    edges = [base * 10.0**d for d in (decade - 1, decade, decade + 1) for base in _R5]
    # Rounding keeps 1.6 * 10 equal to 16, so that labels stay clean.
    edges = [float(f"{edge:.3g}") for edge in edges]
    low = max(edge for edge in edges if edge <= speed)
    return SpeedBand(unit, low, edges[edges.index(low) + 1])
