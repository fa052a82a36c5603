"""Breaks per 1,000 holes as a heat map, material by speed."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from shopfloor.services.findings import Breakage, Place
from shopfloor.web.charts import DEPTHS, FONT_PX, INK, SOFT, Figure, Trace, axis, layout, words
from shopfloor.web.formats import decimal, whole

_CELL_PX, _ROW_PX, _NAME_PX, _HEAD_PX = 118, 66, 175, 64
_NAME_CHARACTERS = 20


def breakage_map(breakage: Breakage) -> Figure:
    """Breaks per 1,000 holes as a heat map, material by speed band.

    Cells with too few holes stay without colour, so that the eye goes to what is known; they carry their text inside a
    dashed frame. Cells without holes say so.
    """
    known = [place for place in breakage.places if not place.is_thin]
    thin = [place for place in breakage.places if place.is_thin]
    names = {name: "<br>".join(wrap(name, _NAME_CHARACTERS)) for name in breakage.materials}
    bands = breakage.speed_bands
    return {
        "data": [_heat(known, names, bands), _thin(thin, names), _empty(breakage, names)],
        "layout": layout(
            width=_NAME_PX + _CELL_PX * max(2, len(bands)),
            height=_HEAD_PX + _ROW_PX * len(names),
            margin={"l": _NAME_PX, "r": 8, "t": _HEAD_PX, "b": 8},
            xaxis=_band_axis(bands),
            yaxis=axis("", type="category", categoryarray=list(names.values()), autorange="reversed", showgrid=False,
                        categoryorder="array", ticks=""),
            shapes=[_frame(place, list(names), bands) for place in thin],
            showlegend=False,
        ),
    }  # fmt: skip


def _band_axis(bands: Sequence[str]) -> Figure:
    labels = [band.replace(" ", "<br>", 1) for band in bands]
    return axis(
        "", type="category", categoryorder="array", categoryarray=list(bands), side="top", showgrid=False, ticks="",
        tickvals=list(bands), ticktext=labels, tickangle=0, range=[-0.5, len(bands) - 0.5],
    )  # fmt: skip


def _heat(places: Sequence[Place], names: dict[str, str], bands: Sequence[str]) -> Trace:
    by_cell = {(place.material, place.speed_band): place for place in places}
    grid = [[by_cell.get((name, band)) for band in bands] for name in names]
    return {
        "type": "heatmap",
        "x": list(bands),
        "y": list(names.values()),
        "z": [[place and place.counted.breaks.per_1000 for place in row] for row in grid],
        "text": [[place and _cell_text(place) for place in row] for row in grid],
        "customdata": [[place and _evidence(place) for place in row] for row in grid],
        "texttemplate": "%{text}",
        "hovertemplate": "%{customdata}<extra></extra>",
        "hoverongaps": False,
        "colorscale": [list(step) for step in DEPTHS],
        "zmin": 0,
        "zmax": max([place.counted.breaks.per_1000 for place in places] or [0]) or 1,
        "showscale": False,
        "xgap": 3,
        "ygap": 3,
        "textfont": {"size": FONT_PX},
    }


def _cell_text(place: Place) -> str:
    rate = place.counted.breaks
    return f"<b>{decimal(rate.per_1000)}</b><br>({decimal(rate.lower)}–{decimal(rate.upper)})"


def _evidence(place: Place) -> str:
    rate = place.counted.breaks
    return (
        f"{place.material}, {place.speed_band}<br>{decimal(rate.per_1000)} breaks per 1,000 holes"
        f"<br>{rate.level:.0%} interval {decimal(rate.lower)} to {decimal(rate.upper)}"
        f"<br>{rate.events} breaks, {whole(rate.holes)} holes, {place.counted.taps} taps"
    )


def _thin(places: Sequence[Place], names: dict[str, str]) -> Trace:
    texts = [f"{_cell_text(place)}<br>thin" for place in places]
    trace = words([p.speed_band for p in places], [names[p.material] for p in places], texts, INK)
    return {**trace, "customdata": [_evidence(p) for p in places], "hovertemplate": "%{customdata}<extra></extra>"}


def _empty(breakage: Breakage, names: dict[str, str]) -> Trace:
    taken = {(place.speed_band, place.material) for place in breakage.places}
    cells = [(band, name) for name in names for band in breakage.speed_bands if (band, name) not in taken]
    trace = words([band for band, _ in cells], [names[name] for _, name in cells], ["no holes"] * len(cells), SOFT)
    return {**trace, "hoverinfo": "skip"}


def _frame(place: Place, names: Sequence[str], bands: Sequence[str]) -> Figure:
    column, row = bands.index(place.speed_band), names.index(place.material)
    return {
        "type": "rect", "x0": column - 0.46, "x1": column + 0.46, "y0": row - 0.44, "y1": row + 0.44,
        "line": {"color": SOFT, "width": 1.5, "dash": "dash"}, "layer": "below",
    }  # fmt: skip
