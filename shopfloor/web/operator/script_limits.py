"""The limits for the operator's scripts, passed with each page: each is stated once, in Python."""

from __future__ import annotations

from shopfloor.core.decision.replacement_age import FLAT, LEVELS
from shopfloor.core.input.labels import LONGEST_SCANNED
from shopfloor.core.input.passwords import LONGEST_PIN
from shopfloor.core.input.plausibility import HOLES_A_SLIP, MANY_TIMES, SPEED_TIMES
from shopfloor.core.input.reader import SHOWN_LENGTH
from shopfloor.core.input.run_entry import FASTEST_RPM, LONGEST_CODE, LONGEST_NOTE, MOST_SLIPS_A_HOLE
from shopfloor.services.catalogue.labels import MOST_NEAR
from shopfloor.web.context import work
from shopfloor.web.drawing.life_bar import ROOM
from shopfloor.web.i18n.odds import HIGH
from shopfloor.web.operator.page import JUST_SAVED

FIXED = {
    "fastest_rpm": FASTEST_RPM,
    "most_slips_a_hole": MOST_SLIPS_A_HOLE,
    "many_times": MANY_TIMES,
    "holes_a_slip": HOLES_A_SLIP,
    "speed_times": SPEED_TIMES,
    "longest_code": LONGEST_CODE,
    "longest_note": LONGEST_NOTE,
    "longest_pin": LONGEST_PIN,
    "longest_scanned": LONGEST_SCANNED,
    "shown_length": SHOWN_LENGTH,
    "most_near": MOST_NEAR,
    "flat": FLAT,
    "levels": LEVELS,
    "high_risk": HIGH,
    "bar_room": ROOM,
    "just_saved_s": JUST_SAVED.total_seconds(),
}
"""Limits that no setting changes."""


def script_limits() -> dict[str, object]:
    """The limits by the names under which `static/js/limits.js` reads them."""
    return {"largest_batch": work().settings.largest_batch, **FIXED}
