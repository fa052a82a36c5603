"""The blueprint that all pages of the crib hang on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint

from shopfloor.web.crib.words import STATE_LOOK, VERDICT_LOOK, observed

blueprint = Blueprint("crib", __name__, url_prefix="/crib")


@blueprint.context_processor
def words() -> dict[str, Any]:
    """The crib's words, for its templates."""
    return {
        "observed": observed,
        "state_look": STATE_LOOK,
        "verdict_look": VERDICT_LOOK,
    }
