"""The blueprint of all quality pages."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("quality", __name__, url_prefix="/quality")
