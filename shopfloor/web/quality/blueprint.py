"""The blueprint that all pages of the quality lead hang on."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("quality", __name__, url_prefix="/quality")
