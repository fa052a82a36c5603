"""Where to set the clutch: above what a sharp tap needs, below what shears the tap."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopfloor.core.floor.cutting import Numbers
from shopfloor.core.phrases import phrase
from shopfloor.core.set_up.torque import Torque
from shopfloor.core.vocabulary import Substrate, TapStyle

SHEAR_MPA = {Substrate.HSS: 1400.0, Substrate.HSS_COBALT: 1400.0, Substrate.POWDER: 1600.0, Substrate.CARBIDE: 1000.0}
"""Stress at which the substrate shears in torsion, N/mm2. From memory: about 2400 N/mm2 tensile strength of hardened
high-speed steel by the distortion-energy rule (1 / sqrt 3); powder metal tougher; carbide brittle, fails by tension."""

CORE = {
    TapStyle.STRAIGHT_FLUTE: 0.70,
    TapStyle.SPIRAL_POINT: 0.75,
    TapStyle.SPIRAL_FLUTE: 0.62,
    TapStyle.FORMING: 0.95,
}
"""Diameter of the round bar that is as strong as the fluted section, as a fraction of the thread's root diameter.
From memory, common practice: flutes cut away most of the section, deep spiral ones the most; a spiral point keeps
shallow ones; a forming tap has none, only grooves for oil."""

ABOVE_SHARP = 1.25
"""A clutch below this many times the sharp tap's torque slips in sound holes; common practice, no source."""
BELOW_SHEAR = 0.6
"""Share of the shearing torque to stay below, for shocks, bending and the spread of tap strength; common practice."""

SOURCE = phrase(
    "torsional strength pi d^3 tau / 16 of the core; core fraction of the root diameter and shear strength of the "
    "substrate from memory; allowances 1.25 and 0.6 common practice, no source"
)


@dataclass(frozen=True)
class ClutchWindow:
    """The range of torques for the clutch. Guide values, in N m.

    Attributes
    ----------
    sharp_nm           torque that a sharp tap needs
    shear_nm           torque that shears the tap
    low_nm, high_nm    limits of the clutch setting that follow from them
    """

    sharp_nm: float
    shear_nm: float
    low_nm: float
    high_nm: float

    @property
    def is_open(self) -> bool:
        """Whether any setting lets a sharp tap cut and still protects it."""
        return self.low_nm < self.high_nm

    @property
    def room(self) -> float:
        """The high limit over the low one; below 1 there is no window."""
        return self.high_nm / self.low_nm


def shear_torque_nm(
    major_mm: Numbers, pitch_mm: float | Numbers, style: TapStyle, substrate: Substrate = Substrate.HSS
) -> Numbers:
    """Torque that shears a tap, in N m.

    Parameters
    ----------
    major_mm, pitch_mm : float or array    of the thread, mm
    style : TapStyle                       decides how much of the section the flutes leave
    substrate : Substrate                  what the tap is made of

    Notes
    -----
    Torsion of a round bar, T = pi d^3 tau / 16, with d the fraction `CORE` of the root diameter D - 1.2269 P (ISO 724).

    Examples
    --------
    >>> round(shear_torque_nm(6.0, 1.0, TapStyle.STRAIGHT_FLUTE), 1)
    10.3
    """
    core_mm = CORE[style] * (major_mm - 1.2269 * pitch_mm)
    return math.pi * core_mm**3 * SHEAR_MPA[substrate] / 16_000


def clutch_window(
    torque: Torque, major_mm: float, pitch_mm: float, style: TapStyle, substrate: Substrate = Substrate.HSS
) -> ClutchWindow:
    """The range of clutch settings; it narrows with the size of the tap and may be empty.

    Parameters
    ----------
    torque : Torque                 that the tap needs
    major_mm, pitch_mm : float      of the thread, mm
    style : TapStyle
    substrate : Substrate           what the tap is made of

    Returns
    -------
    ClutchWindow    from 1.25 times the sharp torque to 0.6 times what shears the tap

    References
    ----------
    In `SOURCE`; both allowances are common practice, no source.
    """
    shear = shear_torque_nm(major_mm, pitch_mm, style, substrate)
    return ClutchWindow(torque.sharp_nm, shear, ABOVE_SHARP * torque.sharp_nm, BELOW_SHEAR * shear)
