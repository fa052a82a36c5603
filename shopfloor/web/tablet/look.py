"""Whether pages are light or dark: as the tablet is set, or as somebody chose on it.

`css/tokens.css` holds every colour of the day, `css/night.css` those of the night; other sheets use their names only,
and a test measures the contrast of each pair. The server draws the choice at once through the `media` of the night
sheet, so it needs no script. The cookie changes the service worker's script, so offline pages are renewed, and
`look.js` corrects those that are not yet. Figures carry both sets of colours, and `chart.js` chooses.
"""

from __future__ import annotations

from flask import Flask, request

from shopfloor.core.phrases import Phrase, phrase

COOKIE = "look"
"""Holds this tablet's choice; scripts read it, too, for pages kept earlier."""

AS_THE_TABLET = "tablet"
LOOKS: dict[str, Phrase] = {
    AS_THE_TABLET: phrase("As the tablet"),
    "light": phrase("Light"),
    "dark": phrase("Dark"),
}
NIGHT: dict[str, str] = {
    AS_THE_TABLET: "screen and (prefers-color-scheme: dark)",
    "light": "not all",
    "dark": "screen",
}
"""The media query of the night style sheet; paper is always white."""


def install(app: Flask) -> None:
    """Give templates the choice."""
    app.add_template_global(look)
    app.jinja_env.globals.update(looks=LOOKS, night_holds=NIGHT)


def look() -> str:
    """The choice made on this tablet."""
    chosen = request.cookies.get(COOKIE, "")
    return chosen if chosen in LOOKS else AS_THE_TABLET
