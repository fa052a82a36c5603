"""What every Plotly figure shares. Figures are plain dictionaries; templates write them as JSON with '<' escaped."""

from __future__ import annotations

from typing import Any

import numpy as np

from shopfloor.core.observations import FloatArray
from shopfloor.core.phrases import phrase
from shopfloor.web.language import locale, say
from shopfloor.web.numbers import marks

Figure = dict[str, Any]
Trace = dict[str, Any]

INK, SOFT, LINE, PAPER = "#10202b", "#34444f", "#cdd5da", "#ffffff"
FITTED, FITTED_BAND = "#0b6a80", "rgba(11, 106, 128, 0.20)"
STEPS_BAND = "rgba(16, 32, 43, 0.12)"
CHANGE = "#a3220f"
DEPTHS = ("#eaf2f4", "#c3dce2", "#93c0cb", "#2c7487", "#0d3b4f")
"""One hue from light to dark: readable with any colour vision, and in black and white."""

FONT_PX = 15
_FONT = {"family": "system-ui, -apple-system, Segoe UI, Roboto, Liberation Sans, sans-serif", "size": FONT_PX}


def layout(**more: Any) -> Figure:
    """A figure's looks, numbers as the page writes them; `more` says what is its own."""
    written = marks(locale())
    return {
        "separators": written.decimal + written.thousands,
        "font": {**_FONT, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "hoverlabel": {"font": _FONT, "align": "left"},
        "dragmode": False,
        **more,
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


def share_at_holes(name: str) -> str:
    """What a point of a curve of shares says where a finger or a mouse is on it; `name` is the curve's."""
    return say(phrase("{share} at {holes} holes", share="%{y:.0%}", holes="%{x:,.0f}")) + f"<extra>{name}</extra>"


def area(x: FloatArray, lower: FloatArray, upper: FloatArray) -> Trace:
    """The area between two lines over the same x, shapes (n,)."""
    around = line(np.concatenate([x, x[::-1]]), np.concatenate([upper, lower[::-1]]))
    return {**around, "fill": "toself", "line": {"width": 0}, "hoverinfo": "skip"}


def short(values: FloatArray) -> list[float]:
    """Digits beyond the sixth are not visible and only make the page heavy."""
    return [float(f"{value:.6g}") for value in values]
