"""Which tap style and which drill suit a material and a hole, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.core.set_up.materials import WorkMaterial
from shopfloor.core.threads.drills import USUAL_PERCENT_FORMING, TapDrill, tap_drills
from shopfloor.core.threads.percent import FORMING_START, WantedPercent, wanted_percent
from shopfloor.core.threads.series import Designation, Series
from shopfloor.core.vocabulary import TapStyle

SOURCE = phrase("common practice of the trade, no source")

_MORE_THAN_WANTED = 10.0
_OTHERS = 6
_MOUTH_OVER = 0.25


@dataclass(frozen=True)
class StyleChoice:
    """The tap style to take, why, and whether a forming tap would do as well."""

    style: TapStyle
    reason: str
    may_be_formed: bool


def suitable_style(material: WorkMaterial, is_blind: bool) -> StyleChoice:
    """The style of cutting tap that suits the hole and the material's chips; common practice, no source."""
    if material.has_short_chips:
        reason = phrase(
            "{material} makes short chips: straight flutes are strongest and hold them", material=material.name
        )
        return StyleChoice(TapStyle.STRAIGHT_FLUTE, reason, material.is_ductile)
    if is_blind:
        reason = phrase("blind hole: spiral flutes lift the chips out, away from the bottom")
        return StyleChoice(TapStyle.SPIRAL_FLUTE, reason, material.is_ductile)
    reason = phrase("through hole: a spiral point pushes the chips ahead, and its flutes stay shallow and strong")
    return StyleChoice(TapStyle.SPIRAL_POINT, reason, material.is_ductile)


@dataclass(frozen=True)
class DrillChoice:
    """Which drill to take for how much thread, and why; the others are the nearest in size."""

    wanted: WantedPercent
    suitable: TapDrill
    """The drill that suits material and depth."""
    taken: TapDrill
    """That drill, or the one for a percentage that is asked for."""
    others: tuple[TapDrill, ...]


def choose_drill(
    thread: Designation, material: WorkMaterial, depth_mm: float, *, forming: bool, percent: float | None = None
) -> DrillChoice:
    """The handbook's drill, unless the material or the depth calls for clearly less thread than it gives.

    Parameters
    ----------
    thread : Designation
    material : WorkMaterial
    depth_mm : float           depth of full thread, mm
    forming : bool             for a forming tap
    percent : float or None    percentage of thread asked for; None: what suits

    Raises
    ------
    InputError         a thread for which no drill is large enough, or a percentage that it cannot have
    """
    wanted = _wanted(material, depth_mm / thread.major_mm, forming=forming)
    offered = _offered(thread, None, forming=forming)
    near = offered if thread.series is Series.NPT else _offered(thread, wanted.percent, forming=forming)
    suitable = offered[0] if _is_near(offered[0], wanted) else _within_limits(near)
    taken = suitable if percent is None else _offered(thread, percent, forming=forming)[0]
    others = tuple(drill for drill in dict.fromkeys([*offered, *near]) if drill != taken)
    return DrillChoice(wanted, suitable, taken, others[:_OTHERS])


def _wanted(material: WorkMaterial, diameters: float, *, forming: bool) -> WantedPercent:
    if forming and material.group not in FORMING_START:
        return WantedPercent(
            USUAL_PERCENT_FORMING,
            phrase("{material} is not formed; the usual forming percentage", material=material.name),
        )
    return wanted_percent(material.group, diameters, forming=forming)


@lru_cache(maxsize=1024)
def _offered(thread: Designation, percent: float | None, *, forming: bool) -> tuple[TapDrill, ...]:
    drills = tuple(tap_drills(thread, percent, forming=forming))
    if not drills:
        raise InputError.of(
            "thread",
            phrase("no standard drill is made for {thread}", thread=thread.text),
            "bore it, or take a smaller one",
        )
    return drills


def _is_near(drill: TapDrill, wanted: WantedPercent) -> bool:
    return drill.percent is None or drill.percent <= wanted.percent + _MORE_THAN_WANTED


def _within_limits(drills: Sequence[TapDrill]) -> TapDrill:
    """The first whose hole the thread's class allows, else the first: less thread may be too little."""
    return next((drill for drill in drills if drill.is_within_limits is not False), drills[0])


def mouth_diameter_mm(major_mm: float, pitch_mm: float) -> float:
    """Diameter of the chamfer at the hole's mouth: the major diameter and a quarter of the pitch; common practice."""
    return major_mm + _MOUTH_OVER * pitch_mm
