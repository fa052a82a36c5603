"""Torque and power that a tap needs, from the chip it takes and the cutting force of its material.

Calculated torques agree within 25 % with what a given size of tapping arm manages in steel, stainless steel and
aluminium (common practice). They are guide values, and every page says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import Numbers
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.set_up.materials import Family, WorkMaterial
from shopfloor.core.vocabulary import Chamfer, TapStyle

FORMULA_SOURCE = phrase(
    "kc P^2 D / 8000, common formula of tapping literature, at the hole D - P; scaled to the drilled hole "
    "by the flank integral of a 60 degree thread, (D - D0)^2 (D + 2 D0)"
)
STYLE_SOURCE = phrase("factor of the tap's style as printed on a public technical page of a tap maker")
FORMING_SOURCE = phrase("a forming tap needs 2 to 3 times a cutting tap's torque: public technical page of a tap maker")
DULL_SOURCE = phrase("a dull tap, a deep hole or a poor lubricant can double the torque: common practice, no source")

DULL_FACTOR = 2.0
FORMING_FACTOR = 2.5
FORMING_DULL_FACTOR = 1.5
"""A forming tap has no edge to lose, but rubs more when worn: common practice, no source."""

_USUAL_HOLE = 1.0
_USUAL_FORMING_HOLE = 0.5
_K = {
    Family.STEEL: (1.35, 1.43, 1.15, 0.95),
    Family.IRON_ALUMINIUM: (1.25, 1.30, 1.05, 0.80),
    Family.BRASS: (1.60, 1.68, 0.85, 0.75),
}
"""Published, coarse threads: straight flute with plug chamfer, with bottoming chamfer, spiral flute, spiral point."""


@dataclass(frozen=True)
class Torque:
    """Torque a tap needs, in N m: new and sharp, and dull, as before it is changed. Guide values."""

    sharp_nm: float
    dull_nm: float


def flank_integral(major_mm: Numbers, hole_mm: float | Numbers) -> Numbers:
    """(D - D0)^2 (D + 2 D0), in mm3: proportional to the moment of the cut flanks.

    Notes
    -----
    The moment of a force per area that acts at radius r over both flanks of a triangle of 60 degrees between the hole
    and the major diameter; multiplied by tan(30 deg) kc K / 24000 this is the second published formula.
    """
    return (major_mm - hole_mm) ** 2 * (major_mm + 2 * hole_mm)


def cutting_torque_nm(
    kc_n_mm2: float | Numbers, major_mm: Numbers, pitch_mm: float | Numbers, hole_mm: float | Numbers
) -> Numbers:
    """Torque of a sharp cutting tap with straight flutes and plug chamfer, in N m.

    Parameters
    ----------
    kc_n_mm2 : float or array    specific cutting force of the material, N/mm2
    major_mm, pitch_mm : float or array
                                 of the thread, mm
    hole_mm : float or array     the drilled hole, mm; below the major diameter

    Notes
    -----
    kc P^2 D / 8000 is exact at the hole D - P. The other published formula uses the drilled hole, but its forces are on
    another scale and rank materials differently from shops (stainless steel far too close to steel). So only its shape
    is used, for the ratio to the usual hole, and never its forces.

    References
    ----------
    Two public technical pages of tap makers.

    Examples
    --------
    >>> round(cutting_torque_nm(2500, 10, 1.5, 8.5), 3)
    7.031
    """
    at_usual_hole = kc_n_mm2 * pitch_mm**2 * major_mm / 8000
    return (
        at_usual_hole * flank_integral(major_mm, hole_mm) / flank_integral(major_mm, major_mm - _USUAL_HOLE * pitch_mm)
    )


def usual_hole_mm(major_mm: Numbers, pitch_mm: float | Numbers, style: TapStyle | None = None) -> Numbers:
    """The hole assumed where none is given: D - P (77 % of thread), for a forming tap D - P/2.

    Parameters
    ----------
    major_mm, pitch_mm : float or array    of the thread, mm
    style : TapStyle or None
    """
    return major_mm - (_USUAL_FORMING_HOLE if style is TapStyle.FORMING else _USUAL_HOLE) * pitch_mm


def style_factor(family: Family, style: TapStyle, chamfer: Chamfer = Chamfer.PLUG) -> float:
    """Torque of a cutting tap of this style relative to one with straight flutes and plug chamfer.

    A bottoming chamfer, whose few threads take thick chips, counts for every style as published for straight flutes.

    Parameters
    ----------
    family : Family      of the material
    style : TapStyle     not a forming tap
    chamfer : Chamfer
    """
    plug, bottoming, spiral_flute, spiral_point = _K[family]
    by_style = {TapStyle.STRAIGHT_FLUTE: plug, TapStyle.SPIRAL_FLUTE: spiral_flute, TapStyle.SPIRAL_POINT: spiral_point}
    return by_style[style] / plug * (bottoming / plug if chamfer is Chamfer.BOTTOMING else 1.0)


def tap_torque(
    material: WorkMaterial,
    major_mm: float,
    pitch_mm: float,
    hole_mm: float | None = None,
    style: TapStyle = TapStyle.STRAIGHT_FLUTE,
    chamfer: Chamfer = Chamfer.PLUG,
) -> Torque:
    """Torque a tap needs in a material, sharp and dull.

    Parameters
    ----------
    material : WorkMaterial
    major_mm, pitch_mm : float    of the thread, mm
    hole_mm : float or None       the drilled hole, mm; None: the usual one
    style : TapStyle
    chamfer : Chamfer

    Raises
    ------
    InputError         a hole that leaves nothing to cut, or none at all; a pitch that no thread has

    References
    ----------
    In `FORMULA_SOURCE`, `STYLE_SOURCE`, `FORMING_SOURCE` and `DULL_SOURCE`
    """
    hole_mm = usual_hole_mm(major_mm, pitch_mm, style) if hole_mm is None else hole_mm
    _check(major_mm, pitch_mm, hole_mm)
    if style is TapStyle.FORMING:
        usual = usual_hole_mm(major_mm, pitch_mm, style)
        base = cutting_torque_nm(material.kc_n_mm2, major_mm, pitch_mm, usual_hole_mm(major_mm, pitch_mm))
        sharp = FORMING_FACTOR * base * flank_integral(major_mm, hole_mm) / flank_integral(major_mm, usual)
        return Torque(sharp, FORMING_DULL_FACTOR * sharp)
    base = cutting_torque_nm(material.kc_n_mm2, major_mm, pitch_mm, hole_mm)
    sharp = base * style_factor(material.family, style, chamfer)
    return Torque(sharp, DULL_FACTOR * sharp)


def power_kw(torque_nm: Numbers, rpm: float | Numbers) -> Numbers:
    """Power at the spindle, in kW: torque times angular speed.

    Examples
    --------
    >>> round(power_kw(20, 150), 3)
    0.314
    """
    return torque_nm * rpm * (2 * math.pi / 60_000)


def _check(major_mm: float, pitch_mm: float, hole_mm: float) -> None:
    if not 0 < pitch_mm < major_mm:
        raise InputError.of(
            "pitch",
            phrase(
                "{pitch_mm} mm on a diameter of {major_mm} mm is not a thread",
                pitch_mm=rounded(pitch_mm),
                major_mm=rounded(major_mm),
            ),
            "give both in mm",
        )
    if not 0 < hole_mm < major_mm:
        raise InputError.of(
            "hole",
            phrase(
                "a hole of {hole_mm} mm leaves nothing to thread at {major_mm} mm",
                hole_mm=rounded(hole_mm),
                major_mm=rounded(major_mm, 4),
            ),
            phrase(
                "give one between {major_mm} and {major_mm2} mm",
                major_mm=rounded(major_mm - 1.0825 * pitch_mm, 4),
                major_mm2=rounded(major_mm, 4),
            ),
        )
