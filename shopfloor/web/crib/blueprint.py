"""The blueprint of all crib pages."""

from __future__ import annotations

from typing import Any

from flask import Blueprint

from shopfloor.web.crib.words import DEED_LOOK, STATE_LOOK, WHY_SO_MANY, deed_number, observed, standing

blueprint = Blueprint("crib", __name__, url_prefix="/crib")


@blueprint.context_processor
def words() -> dict[str, Any]:
    """The crib's wording, for its templates."""
    return {
        "observed": observed,
        "state_look": STATE_LOOK,
        "standing": standing,
        "deed_look": DEED_LOOK,
        "deed_number": deed_number,
        "why_so_many": WHY_SO_MANY,
    }
