"""The handbook: its table of contents, and each page."""

from __future__ import annotations

from flask import Blueprint, render_template
from werkzeug.exceptions import NotFound

from shopfloor.core.input.passwords import FREE_ATTEMPTS, LONGEST_PIN, SHORTEST_PASSWORD
from shopfloor.services.quality.photographs import MOST_OF_A_BREAK
from shopfloor.web.drawing.labels import SIZES
from shopfloor.web.help import commands, pages, pictures, tables

LIMITS = {
    "photographs": MOST_OF_A_BREAK,
    "shortest_password": SHORTEST_PASSWORD,
    "longest_pin": LONGEST_PIN,
    "wrong_in_a_row": FREE_ATTEMPTS + 1,
}
"""Numbers that pages of the handbook name."""

blueprint = Blueprint("help", __name__)
blueprint.add_app_template_global(pictures.picture, "help_picture")


@blueprint.get("/help/")
def start() -> str:
    """What there is, by person."""
    return render_template("help/start.html", chapters=pages.CHAPTERS)


@blueprint.get("/help/<name>")
def page(name: str) -> str:
    """A page for reading at a desk."""
    if name not in pages.PAGES or name in pages.KEPT:
        raise NotFound
    return _drawn(name)


# No clash with stations: their addresses end with a slash.
@blueprint.get("/operator/help-<name>")
def kept_page(name: str) -> str:
    """A page that a tablet keeps along with its stations' pages."""
    if name not in pages.KEPT:
        raise NotFound
    return _drawn(name)


def _drawn(name: str) -> str:
    return render_template(
        f"help/{name}.html",
        shown=pages.PAGES[name],
        chapter=pages.chapter_of(name),
        tables=tables,
        commands=commands.commands,
        sizes=dict(SIZES),
        limits=LIMITS,
    )
