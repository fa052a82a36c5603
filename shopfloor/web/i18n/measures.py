"""The units of what a page shows: those of the job's drawing, else the shop's."""

from __future__ import annotations

from flask import g, has_app_context

from shopfloor.core.units import Units
from shopfloor.web.context import work


def units() -> Units:
    """The units of the current page; metric outside a request."""
    if not has_app_context():
        return Units.METRIC
    found: Units | None = g.get("units")
    return shops_units() if found is None else found


def shops_units() -> Units:
    """The units that the shop works in."""
    return work().settings.drawn_in


def show_in(units: Units | None) -> None:
    """Use these units for the rest of this answer; None: the shop's."""
    g.units = units
