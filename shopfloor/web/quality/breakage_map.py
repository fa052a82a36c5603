"""Breaks per 1,000 holes as a heat map, material by speed."""

from __future__ import annotations

from textwrap import wrap

from shopfloor.core.phrases import phrase
from shopfloor.services.quality.breakage import Breakage, BreakagePlace
from shopfloor.web.drawing.charts import DEPTHS, FONT_PX, INK, PAPER, SOFT, Figure, Trace, axis, layout
from shopfloor.web.i18n.formats import percent, speed_band
from shopfloor.web.i18n.language import say
from shopfloor.web.quality.sentences import between, counted, per_1000

_CELL_PX, _ROW_PX, _NAME_PX, _HEAD_PX = 112, 62, 185, 60
_NAME_CHARACTERS = 22
_DARK = 3
"""From this colour step on, text is light."""


def breakage_map(breakage: Breakage) -> Figure:
    """Breaks per 1,000 holes, material by speed band, each cell with its rate, interval and evidence.

    Cells with too few holes have no colour, so that the eye goes to what is known; their text is inside a
    dashed frame. Cells without holes say so.
    """
    names = {name: "<br>".join(wrap(name, _NAME_CHARACTERS)) for name in breakage.materials}
    bands = breakage.speed_bands
    by_cell = {(place.material, place.speed_band): place for place in breakage.places}
    grid = [[by_cell.get((name, band)) for band in bands] for name in names]
    top = max([place.counted.breaks.per_1000 for place in breakage.places if not place.is_thin] or [0]) or 1
    return {
        "data": [_colours(grid, list(names.values()), bands, top), _texts(grid, list(names.values()), bands, top)],
        "layout": layout(
            # The page keeps the chart at least this wide and scrolls it.
            meta={"least_width": _NAME_PX + _CELL_PX * max(2, len(bands))},
            height=_HEAD_PX + _ROW_PX * len(names),
            margin={"l": _NAME_PX, "r": 8, "t": _HEAD_PX, "b": 8},
            xaxis=_category_axis(bands, [_on_two_lines(speed_band(band)) for band in bands], side="top"),
            yaxis=_category_axis(tuple(names.values()), list(names.values()), is_down=True),
            shapes=[_frame(x, y) for y, row in enumerate(grid) for x, cell in enumerate(row) if cell and cell.is_thin],
            showlegend=False,
        ),
    }  # fmt: skip


def _category_axis(values: tuple[str, ...], labels: list[str], side: str = "left", *, is_down: bool = False) -> Figure:
    ends = [-0.5, len(values) - 0.5]
    return axis(
        "", type="category", categoryorder="array", categoryarray=list(values), side=side, showgrid=False, ticks="",
        showline=False, zeroline=False, tickvals=list(values), ticktext=labels, tickangle=0,
        range=ends[::-1] if is_down else ends,
    )  # fmt: skip


Grid = list[list[BreakagePlace | None]]


def _colours(grid: Grid, rows: list[str], bands: tuple[str, ...], top: float) -> Trace:
    return {
        "type": "heatmap",
        "x": list(bands),
        "y": rows,
        "z": [[None if p is None or p.is_thin else p.counted.breaks.per_1000 for p in row] for row in grid],
        "customdata": [[_evidence(p) if p else "" for p in row] for row in grid],
        "hovertemplate": "%{customdata}<extra></extra>",
        "hoverongaps": False,
        "colorscale": _steps(),
        "zmin": 0,
        "zmax": top,
        "showscale": False,
        "xgap": 3,
        "ygap": 3,
    }


def _steps() -> list[list[float | str]]:
    """A few flat steps instead of a gradient: text keeps its contrast, and cells are easily compared."""
    n = len(DEPTHS)
    return [[edge / n, colour] for i, colour in enumerate(DEPTHS) for edge in (i, i + 1)]


def _texts(grid: Grid, rows: list[str], bands: tuple[str, ...], top: float) -> Trace:
    cells = [
        (band, name, place)
        for name, row in zip(rows, grid, strict=True)
        for band, place in zip(bands, row, strict=True)
    ]
    return {
        "type": "scatter",
        "mode": "text",
        "x": [band for band, _, _ in cells],
        "y": [name for _, name, _ in cells],
        "text": [_cell_text(place) for _, _, place in cells],
        "textfont": {"color": [_ink(place, top) for _, _, place in cells], "size": FONT_PX},
        "customdata": [_evidence(place) if place else say("no holes") for _, _, place in cells],
        "hovertemplate": "%{customdata}<extra></extra>",
    }


def _cell_text(place: BreakagePlace | None) -> str:
    if place is None:
        return say("no holes")
    rate = place.counted.breaks
    thin = f" {say('thin')}" if place.is_thin else ""
    return f"<b>{per_1000(rate.per_1000)}</b>{thin}<br>({per_1000(rate.lower)}–{per_1000(rate.upper)})"


def _ink(place: BreakagePlace | None, top: float) -> str:
    if place is None:
        return SOFT
    is_dark = not place.is_thin and place.counted.breaks.per_1000 * len(DEPTHS) >= _DARK * top
    return PAPER if is_dark else INK


def _on_two_lines(band: str) -> str:
    """A band above its unit, whatever kind of space separates them."""
    return "<br>".join(band.replace("\u00a0", " ").split(" ", 1))


def _evidence(place: BreakagePlace) -> str:
    rate = place.counted.breaks
    holes = counted(round(rate.holes), "hole")
    told = phrase("{rate} breaks per 1,000 holes", rate=per_1000(rate.per_1000))
    interval = phrase("{level} interval: {between}", level=percent(rate.level), between=between(rate))
    known = f"{counted(rate.events, 'break')}, {holes}, {counted(place.counted.taps, 'tap')}"
    return f"<b>{place.material}, {speed_band(place.speed_band)}</b><br>{say(told)}<br>{say(interval)}<br>{known}"


def _frame(column: int, row: int) -> Figure:
    return {
        "type": "rect", "x0": column - 0.46, "x1": column + 0.46, "y0": row - 0.44, "y1": row + 0.44,
        "line": {"color": SOFT, "width": 1.5, "dash": "dash"}, "layer": "below",
    }  # fmt: skip
