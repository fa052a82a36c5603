"""The blueprint that all pages of the crib hang on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, request

from shopfloor.web.crib.words import REACH_WORDS, STATE_LOOK, VERDICT_LOOK, observed, risk_range, risk_words

blueprint = Blueprint("crib", __name__, url_prefix="/crib")

PAGES = (
    ("crib.board", "Taps in service"),
    ("crib.orders", "What to order"),
    ("crib.taps", "Find a tap"),
    ("crib.receive", "Receive taps"),
)
"""Endpoint and label of the crib's own menu."""


@blueprint.context_processor
def pages() -> dict[str, Any]:
    """The crib's menu and its words, for its templates."""
    return {
        "crib_pages": PAGES,
        "observed": observed,
        "reach_words": REACH_WORDS,
        "risk_words": risk_words,
        "risk_range": risk_range,
        "state_look": STATE_LOOK,
        "verdict_look": VERDICT_LOOK,
    }


@blueprint.before_request
def refuse_unwritable() -> None:
    """No code holds a NUL, and not every database can even be asked for one."""
    if "\0" in request.path or any("\0" in value for value in request.args.values()):
        abort(404)
