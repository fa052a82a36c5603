"""The blueprint of all crib pages."""

from __future__ import annotations

from typing import Any

from flask import Blueprint

from shopfloor.web.crib.words import ACTION_LOOK, STATE_LOOK, WHY_SO_MANY, action_number, observed, standing

blueprint = Blueprint("crib", __name__, url_prefix="/crib")


@blueprint.context_processor
def words() -> dict[str, Any]:
    """The crib's wording, for its templates."""
    return {
        "observed": observed,
        "state_look": STATE_LOOK,
        "standing": standing,
        "action_look": ACTION_LOOK,
        "action_number": action_number,
        "why_so_many": WHY_SO_MANY,
    }
