"""Serves Plotly's script from the installed package, under an address that changes with its version."""

from __future__ import annotations

from functools import cache
from importlib.metadata import version as installed
from importlib.util import find_spec
from pathlib import Path

from flask import Flask, Response, url_for

from shopfloor.web.assets import compression

_YEAR_S = 365 * 24 * 3600


def install(app: Flask) -> None:
    """Add the script's address, and `plotly_address()` for pages with a chart."""

    @app.get("/plotly/<version>/plotly.min.js")
    def plotly_script(version: str) -> Response:
        encoding = compression.taken()
        response = Response(
            _compressed(encoding) if encoding else _script_path().read_bytes(), mimetype="text/javascript"
        )
        if encoding:
            compression.marked(response, encoding)
        response.cache_control.public = True
        response.cache_control.max_age = _YEAR_S
        response.cache_control.immutable = True
        return response

    @app.context_processor
    def address() -> dict[str, object]:
        return {"plotly_address": lambda: url_for("plotly_script", version=installed("plotly"))}


@cache
def _compressed(encoding: str) -> bytes:
    """Compressed once per server process: a third of the bytes, for half a second of work."""
    return compression.small(_script_path().read_bytes(), encoding)


def _script_path() -> Path:
    # Importing plotly would take longer than serving its file.
    package = find_spec("plotly")
    if package is None or not package.submodule_search_locations:
        raise FileNotFoundError("plotly is not installed")
    return Path(package.submodule_search_locations[0]) / "package_data" / "plotly.min.js"
