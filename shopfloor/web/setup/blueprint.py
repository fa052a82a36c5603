"""The blueprint that all pages of setting up hang on."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("setup", __name__, url_prefix="/setup")
