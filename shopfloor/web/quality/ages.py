"""The age of a tap in words: holes, or length of thread if the shop counts that."""

from __future__ import annotations

import math
from collections.abc import Callable

from shopfloor.core.phrases import Phrase, phrase
from shopfloor.core.units import AgeUnit
from shopfloor.web.i18n.formats import NO_VALUE, number, whole
from shopfloor.web.i18n.language import say

AT, AT_LENGTH = "%{x:,.0f}", "%{x:,.2f}"
"""Plotly's placeholder for the age of a point."""

_DIGITS = ((10, 2), (100, 1), (math.inf, 0))
"""How many decimals up to which length: about three figures."""


def is_holes(unit: AgeUnit) -> bool:
    """Whether ages are holes."""
    return unit is AgeUnit.HOLES


def figure_of(age: float | None, unit: AgeUnit) -> str:
    """An age without its unit: '480', '5.76'."""
    return _figure(age, unit, round)


def floor_of(age: float, unit: AgeUnit) -> str:
    """An age rounded down, so that a lower bound stays one."""
    return _figure(age, unit, math.floor)


def hole_or_length(age: float, unit: AgeUnit) -> str:
    """An age that a sentence names, without its unit: no tap fails before its first hole."""
    return "1" if is_holes(unit) and age < 1 else figure_of(age, unit)


def told(age: float, unit: AgeUnit) -> Phrase:
    """An age with its unit: 'hole 480', '5.76 m of thread'."""
    if is_holes(unit):
        return phrase("hole {hole}", hole=figure_of(age, unit))
    return phrase("{length} of thread", length=length(figure_of(age, unit), unit))


def length(figure: str, unit: AgeUnit) -> str:
    """A length with its unit, without a line break between."""
    return f"{figure}\u00a0{unit.value}"


def title(unit: AgeUnit) -> str:
    """What an axis or a column of ages is called."""
    if is_holes(unit):
        return say(phrase("Holes on the tap"))
    return say(phrase("Thread cut by the tap, {unit}", unit=unit.value))


def axis_format(unit: AgeUnit) -> dict[str, str]:
    """Number format of an axis of ages: lengths as they come."""
    return {"tickformat": ",d"} if is_holes(unit) else {}


def share_at(name: str, unit: AgeUnit) -> str:
    """Hover text for a point of a curve of shares; `name` is the curve's."""
    if is_holes(unit):
        told = phrase("{share} at {holes} holes", share="%{y:.0%}", holes=AT)
    else:
        told = phrase("{share} at {length} of thread", share="%{y:.0%}", length=length(AT_LENGTH, unit))
    return say(told) + f"<extra>{name}</extra>"


def mark(name: str, unit: AgeUnit) -> str:
    """Hover text for the mark of one life."""
    told = phrase("{holes} holes", holes=AT) if is_holes(unit) else length(AT_LENGTH, unit)
    return f"{say(told)}<extra>{name}</extra>"


def _figure(age: float | None, unit: AgeUnit, rounded: Callable[[float], int]) -> str:
    if age is None or math.isnan(age):
        return NO_VALUE
    if is_holes(unit) or math.isinf(age):
        return whole(age if math.isinf(age) else rounded(age))
    digits = next(digits for below, digits in _DIGITS if age < below)
    scale: int = 10**digits
    return number(f"{rounded(age * scale) / scale:,.{digits}f}")
