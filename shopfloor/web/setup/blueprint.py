"""The blueprint of all set-up pages."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("setup", __name__, url_prefix="/setup")
