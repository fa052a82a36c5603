"""What every Plotly figure shares. Figures are plain dictionaries; templates write them as JSON with '<' escaped."""

from __future__ import annotations

from typing import Any

import numpy as np

from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.web.i18n.language import locale
from shopfloor.web.i18n.numbers import marks

Figure = dict[str, Any]
Trace = dict[str, Any]

INK, SOFT, LINE, PAPER = "#10202b", "#34444f", "#cdd5da", "#ffffff"
FITTED, FITTED_BAND = "#0b6a80", "rgba(11, 106, 128, 0.20)"
STEPS_BAND = "rgba(16, 32, 43, 0.12)"
CHANGE, CHANGE_BAND = "#a3220f", "rgba(163, 34, 15, 0.16)"
DEPTHS = ("#eaf2f4", "#c3dce2", "#93c0cb", "#1e5f71", "#0d3b4f")
"""One hue from light to dark: readable with any colour vision, and in black and white."""

NIGHT = {
    INK: "#e6edf1",
    SOFT: "#b7c5cd",
    LINE: "#2c3941",
    PAPER: "#182329",
    FITTED: "#5cc4e0",
    FITTED_BAND: "rgba(92, 196, 224, 0.22)",
    STEPS_BAND: "rgba(230, 237, 241, 0.14)",
    CHANGE: "#ff9e8c",
    CHANGE_BAND: "rgba(255, 158, 140, 0.18)",
    **dict(zip(DEPTHS, ("#1f3039", "#234252", "#245266", "#70b8d3", "#a6dcf0"), strict=True)),
}
"""The night equivalent of each colour: depths run from dark to light, so the text on them is inverted, too."""

FONT_PX = 15
_FONT = {"family": "system-ui, -apple-system, Segoe UI, Roboto, Liberation Sans, sans-serif", "size": FONT_PX}


def layout(**more: Any) -> Figure:
    """A figure's daytime layout, numbers as the page writes them, with the night colours alongside.

    `more` holds what is specific to one figure.
    """
    written = marks(locale())
    return {
        "separators": written.decimal + written.thousands,
        "font": {**_FONT, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "hoverlabel": {"font": _FONT, "align": "left"},
        "dragmode": False,
        **more,
        "meta": {"night": NIGHT, **more.get("meta", {})},
    }


def axis(title: str, **more: Any) -> Figure:
    """An axis that a finger on the page cannot drag."""
    return {
        "title": {"text": title, "standoff": 10},
        "fixedrange": True,
        "linecolor": SOFT,
        "tickfont": {"size": FONT_PX},
        **more,
    }


def line(x: FloatArray, y: FloatArray) -> Trace:
    """A line through points, shapes (n,)."""
    return {"type": "scatter", "mode": "lines", "x": short(x), "y": short(y)}


def area(x: FloatArray, lower: FloatArray, upper: FloatArray) -> Trace:
    """The area between two lines over the same x, shapes (n,)."""
    around = line(np.concatenate([x, x[::-1]]), np.concatenate([upper, lower[::-1]]))
    return {**around, "fill": "toself", "line": {"width": 0}, "hoverinfo": "skip"}


def short(values: FloatArray) -> list[float]:
    """Numbers to six digits: more are not visible and only make the page larger."""
    return [float(f"{value:.6g}") for value in values]
