"""Conversions between the shop's units; the core itself is metric."""

from __future__ import annotations

from enum import StrEnum

from shopfloor.core.vocabulary import Word

MM_PER_INCH = 25.4
"""Exact since 1959 (ISO 80000-3)."""
MM_PER_FOOT = 304.8
"""12 inches."""
NM_PER_FT_LB = 0.3048 * 0.45359237 * 9.80665
"""The foot, the avoirdupois pound (exact since 1959) and the standard acceleration of gravity (ISO 80000-3, -4)."""
NM_PER_IN_LB = NM_PER_FT_LB / 12


class AgeUnit(StrEnum):
    """Unit of a tap's age: holes, or length of thread."""

    HOLES = "holes"
    METRES = "m"
    FEET = "ft"

    @property
    def mm(self) -> float:
        """Length of thread in one unit, in mm.

        Raises
        ------
        KeyError    for holes, which have no length of their own
        """
        return {AgeUnit.METRES: 1000.0, AgeUnit.FEET: MM_PER_FOOT}[self]


class Units(Word):
    """System of units of a drawing, in which lengths are typed and read."""

    METRIC = "metric", "Metric (mm, m/min)", "mm"
    INCH = "inch", "Inch (in, ft/min)", "in"

    @property
    def length(self) -> str:
        """The unit of a length."""
        return "in" if self is Units.INCH else "mm"

    @property
    def thread(self) -> AgeUnit:
        """The unit of the total thread length in a tap's life."""
        return AgeUnit.FEET if self is Units.INCH else AgeUnit.METRES

    @property
    def speed(self) -> str:
        """The unit of a surface speed."""
        return "ft/min" if self is Units.INCH else "m/min"

    @property
    def torque(self) -> str:
        """The unit of a torque."""
        return "ft-lb" if self is Units.INCH else "N m"

    def of_mm(self, mm: float) -> float:
        """A length in these units."""
        return mm / MM_PER_INCH if self is Units.INCH else mm

    def to_mm(self, length: float) -> float:
        """A length of these units in mm."""
        return length * MM_PER_INCH if self is Units.INCH else length

    def of_nm(self, nm: float) -> float:
        """A torque in these units."""
        return nm / NM_PER_FT_LB if self is Units.INCH else nm

    def of_m_min(self, m_min: float) -> float:
        """A surface speed in these units."""
        return m_min * 1000 / MM_PER_FOOT if self is Units.INCH else m_min
