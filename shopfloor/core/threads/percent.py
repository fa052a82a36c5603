"""Percentage of thread: what a drilled hole gives, which hole a percentage needs, and how much to ask for.

The handbook's convention for cutting taps: 100 % is a thread 0.6495 P deep on each side. (Some sheets take the basic
internal thread, 0.5413 P, as 100 %: a No. 7 drill for 1/4-20 is then 91 %, not 75 %.) Forming taps displace the metal
and need a larger hole for the same thread: hole = major - 0.0068 x percent x P. Both as in Machinery's Handbook; the
forming formula as read in public tables of formulas, for inch and metric threads alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.threads.pipe import G_HEIGHT
from shopfloor.core.threads.series import Designation, Floats, Series, positive
from shopfloor.core.vocabulary import IsoGroup

CUTTING_FACTOR = 1.299038
"""2 x 0.649519, twice the depth that counts as 100 %, over the pitch; printed as 1.299."""

FORMING_FACTOR = 0.68
"""The hole of a forming tap for 100 % is the major diameter less this many pitches."""


@dataclass(frozen=True)
class WantedPercent:
    """A percentage of thread to ask for, and why."""

    percent: float
    reason: str


def percent_of_thread(thread: Designation, drill_mm: ArrayLike, *, forming: bool = False) -> Floats:
    """Percentage of thread that a hole of this diameter gives.

    Parameters
    ----------
    thread : Designation            a parallel thread
    drill_mm : array_like, mm       above 0 and below the major diameter
    forming : bool                  for a forming tap

    Raises
    ------
    InputError    a taper thread, a hole not below the major diameter

    References
    ----------
    Machinery's Handbook, tapping: diameters of tap drills, and cold form tapping. For G the depth of its own form,
    0.640327 P a side, counts as 100 % (ISO 228-1).

    Examples
    --------
    >>> from shopfloor.core.threads.designations import parse
    >>> float(percent_of_thread(parse("1/4-20"), 0.201 * 25.4).round(1))
    75.4
    """
    factor = _factor(thread, forming=forming)
    drills = positive("drill", drill_mm)
    if (drills >= thread.major_mm).any():
        what = phrase(
            "{drill} mm leaves no metal for {basic_text}",
            drill=rounded(float(drills.max())),
            basic_text=thread.basic_text,
        )
        raise InputError.of("drill", what, phrase("take one below {major_mm} mm", major_mm=rounded(thread.major_mm, 4)))
    return np.asarray(100 * (thread.major_mm - drills) / (factor * thread.pitch_mm))


def drill_for_percent(thread: Designation, percent: ArrayLike, *, forming: bool = False) -> Floats:
    """Diameter of the hole that gives a percentage of thread, in mm: the inverse of `percent_of_thread`.

    Parameters
    ----------
    thread : Designation            a parallel thread
    percent : array_like            above 0, up to 100
    forming : bool                  for a forming tap

    Raises
    ------
    InputError    a taper thread, a percentage out of range
    """
    factor = _factor(thread, forming=forming)
    percents = np.asarray(percent, float)
    good = np.isfinite(percents) & (percents > 0) & (percents <= 100)
    if not good.all():
        what = phrase("{number} is out of range", number=rounded(float(percents[~good].flat[0])))
        raise InputError.of("percent", what, "write a percentage of thread above 0 and up to 100, such as 75")
    return np.asarray(thread.major_mm - factor * thread.pitch_mm * percents / 100)


def _factor(thread: Designation, *, forming: bool) -> float:
    if thread.series is Series.NPT:
        what = phrase("{basic_text} is a taper thread, which has no single percentage", basic_text=thread.basic_text)
        raise InputError.of("thread", what, "take the usual drill from its table")
    if thread.series is Series.G:
        if forming:
            raise InputError.of("thread", "no forming formula is known for G threads", "ask for a cutting tap")
        return 2 * G_HEIGHT
    return FORMING_FACTOR if forming else CUTTING_FACTOR


CUTTING_START = {
    IsoGroup.N: 75.0, IsoGroup.K: 75.0, IsoGroup.P: 70.0, IsoGroup.M: 65.0, IsoGroup.S: 60.0, IsoGroup.H: 55.0,
}  # fmt: skip
FORMING_START = {IsoGroup.N: 70.0, IsoGroup.P: 65.0, IsoGroup.M: 60.0, IsoGroup.S: 60.0}
"""Percentage of thread for a hole of ordinary depth. Common practice, no source."""

_DEPTH_STEPS = (
    (1.5, 0.0, phrase("ordinary depth")),
    (2.5, -5.0, phrase("deep hole")),
    (float("inf"), -10.0, phrase("very deep hole")),
)
"""Up to this depth over diameter, so much is added. Common practice, no source."""

_LEAST_PERCENT = 50.0


def wanted_percent(group: IsoGroup, depth_over_diameter: float, *, forming: bool = False) -> WantedPercent:
    """Percentage of thread to ask for: less in harder material and deeper holes, where torque breaks taps first.

    Parameters
    ----------
    group : IsoGroup                 of the material
    depth_over_diameter : float      thread depth over major diameter, above 0
    forming : bool                   for a forming tap

    Raises
    ------
    InputError    a depth that is not above 0; a material that cannot be formed

    References
    ----------
    Common practice, no source. Above 75 % torque rises quickly and strength hardly.
    """
    depth = float(positive("depth over diameter", depth_over_diameter, "diameters"))
    start = (FORMING_START if forming else CUTTING_START).get(group)
    if start is None:
        raise InputError.of("tap style", phrase("{group} cannot be formed", group=group.label), "take a cutting tap")
    change, words = next((change, words) for end, change, words in _DEPTH_STEPS if depth <= end)
    percent = max(start + change, _LEAST_PERCENT)
    kind = phrase("forming") if forming else phrase("cutting")
    reason = phrase(
        "{group}, {kind} tap: {start} %; {words} ({depth} x diameter): {percent} %",
        group=group.label,
        kind=kind,
        start=rounded(start),
        words=words,
        depth=rounded(depth, 2),
        percent=rounded(percent),
    )
    return WantedPercent(percent, phrase("{reason}. Common practice: deeper and harder, less", reason=reason))
