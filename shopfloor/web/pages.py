"""What every page shares: addresses of static files, the menu, whether this is the demo."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from flask import Flask, Response, send_from_directory, url_for

from shopfloor import __version__
from shopfloor.web.context import work

_STATIC = Path(__file__).parent / "static"
_YEAR_S = 365 * 24 * 3600

MENU = (
    ("operator.start", "Station", "operator"),
    ("crib.board", "Crib", "crib"),
    ("quality.board", "Quality", "quality"),
    ("setup.start", "Set up", "setup"),
)
"""Endpoint, label, and the blueprint that the entry stands for."""


def install(app: Flask) -> None:
    """Serve static files under an address that changes with their content, and fill every template's context."""
    version = _version_of(_STATIC)

    @app.get("/static/<version>/<path:name>")
    def static_file(version: str, name: str) -> Response:
        response = send_from_directory(_STATIC, name, max_age=_YEAR_S)
        response.cache_control.immutable = True
        return response

    @app.context_processor
    def shared() -> dict[str, Any]:
        return {
            "asset": lambda name: url_for("static_file", version=version, name=name),
            "menu": MENU,
            "settings": work().settings,
            "version": __version__,
        }


def _version_of(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        digest.update(path.relative_to(folder).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:12]
