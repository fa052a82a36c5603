"""What all pages share: addresses of static files, the menu, whether this is the demo."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from flask import Flask, Response, current_app, request, send_from_directory, url_for
from markupsafe import Markup

from shopfloor import __version__
from shopfloor.core.phrases import phrase
from shopfloor.web.assets import compression
from shopfloor.web.assets.bundles import BUNDLES, STATIC, bundled
from shopfloor.web.context import work

_VERSION = "shopfloor static version"
_TEXTS = (".css", ".js", ".svg")
_YEAR_S = 365 * 24 * 3600

MENU = (
    ("operator.start", phrase("Station"), "operator"),
    ("crib.board", phrase("Crib"), "crib"),
    ("quality.board", phrase("Quality"), "quality"),
    ("setup.start", phrase("Set up"), "setup"),
)
"""Endpoint, label, and the blueprint that the entry stands for."""


@dataclass(frozen=True)
class MenuEntry:
    """One entry of an area's menu: where it leads and what it says."""

    endpoint: str
    label: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Area:
    """Pages that belong together, in the order of their menu."""

    label: str
    pages: tuple[MenuEntry, ...]


AREAS = {
    "crib": Area(
        phrase("Tool crib"),
        (
            MenuEntry("crib.board", phrase("Taps in service")),
            MenuEntry("crib.orders", phrase("What to order")),
            MenuEntry("crib.taps", phrase("Find a tap")),
            MenuEntry("crib.receive", phrase("Receive taps")),
            MenuEntry("crib.types", phrase("Tap types")),
            MenuEntry("crib.labels", phrase("Labels")),
        ),
    ),
    "quality": Area(
        phrase("Quality"),
        (
            MenuEntry("quality.board", phrase("Where taps break")),
            MenuEntry("quality.incident_list", phrase("Incidents")),
            MenuEntry("quality.life", phrase("Tap life")),
        ),
    ),
    "setup": Area(
        phrase("Set up"),
        (
            MenuEntry("setup.start", phrase("Overview")),
            MenuEntry("setup.things", phrase("People"), {"kind": "people"}),
            MenuEntry("setup.things", phrase("Stations"), {"kind": "stations"}),
            MenuEntry("setup.things", phrase("Materials"), {"kind": "materials"}),
            MenuEntry("setup.things", phrase("Jobs"), {"kind": "jobs"}),
            MenuEntry("access.overview", phrase("Who gets in")),
        ),
    ),
}
"""The menu of each area that has one, by its blueprint."""

_AREA_OF = {"access": "setup"}
"""The area of a blueprint that is not an area of its own."""


def install(app: Flask) -> None:
    """Serve static files under an address that changes with their content, and fill every template's context."""
    app.extensions[_VERSION] = _version_of(STATIC)

    @app.get("/static/<version>/<path:name>")
    def static_file(version: str, name: str) -> Response:
        # A page of another version gets this version's file, but must not cache it.
        is_own = version == served_version()
        max_age = _YEAR_S if is_own else 0
        response = _bundle(name, max_age) if name in BUNDLES else send_from_directory(STATIC, name, max_age=max_age)
        if is_own:
            response.cache_control.immutable = True
        if response.status_code == 200 and name.endswith(_TEXTS) and (encoding := compression.taken()):
            response.direct_passthrough = False
            response.close()
            response.set_data(_compressed(name, encoding))
            compression.marked(response, encoding)
        return response

    @app.context_processor
    def shared() -> dict[str, Any]:
        return {
            "asset": static_address,
            "inlined": _inlined,
            "area": AREAS.get(_AREA_OF.get(request.blueprint or "", request.blueprint or "")),
            "menu": MENU,
            "settings": work().settings,
            "version": __version__,
        }


def served_version() -> str:
    """The version of the static files, which changes with their content."""
    version: str = current_app.extensions[_VERSION]
    return version


def static_address(name: str) -> str:
    """Where the static file of that name is, in the version that is served."""
    return url_for("static_file", version=served_version(), name=name)


@cache
def _inlined(name: str) -> Markup:
    """One of our drawings, inline in the page: a separate request would cost a slow tablet more than the text."""
    return Markup((STATIC / name).read_text(encoding="utf-8"))  # noqa: S704  (our own file)


def _bundle(name: str, max_age: int) -> Response:
    response = Response(bundled(name), mimetype="text/css" if name.endswith(".css") else "text/javascript")
    response.cache_control.public = True
    response.cache_control.max_age = max_age
    return response


@cache
def _compressed(name: str, encoding: str) -> bytes:
    """A static file, compressed once as far as it goes."""
    body = bundled(name) if name in BUNDLES else (STATIC / name).read_bytes()
    return compression.smallest(body, encoding)


def _version_of(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        digest.update(path.relative_to(folder).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:12]
