"""Holes so far and holes to come against the suggested change, as one small picture for every page."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Flask

from shopfloor.core.phrases import phrase
from shopfloor.web.i18n.language import say

ROOM = 1.06
"""The bar reaches a little beyond its last mark."""


@dataclass(frozen=True)
class LifeBar:
    """Shares of the bar's length, in percent: holes made, holes to come, where a change is suggested."""

    made: float
    coming: float
    change: float | None
    label: str


def install(app: Flask) -> None:
    """Let templates ask for a bar."""
    app.add_template_global(life_bar, "bar_of")


def life_bar(holes: int | None, next_holes: int, change_at: int | None) -> LifeBar | None:
    """The bar of a tap; None if its holes are not known."""
    if holes is None:
        return None
    length = ROOM * max(holes + next_holes, change_at or 0, 1)
    label = phrase("{made} holes so far, {coming} to come", made=holes, coming=next_holes)
    if change_at is not None:
        label = phrase("{so_far}, change suggested at {holes}", so_far=label, holes=change_at)
    return LifeBar(
        round(100 * holes / length, 2),
        round(100 * next_holes / length, 2),
        None if change_at is None else round(100 * change_at / length, 2),
        say(label),
    )
