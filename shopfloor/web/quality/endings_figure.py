"""How taps end: the share broken and the share worn by holes, each with its band."""

from __future__ import annotations

import numpy as np

from shopfloor.core.phrases import phrase
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.services.quality.goodness import Endings
from shopfloor.web.drawing.charts import (
    CHANGE,
    CHANGE_BAND,
    FITTED,
    FITTED_BAND,
    FONT_PX,
    LINE,
    Figure,
    Trace,
    area,
    axis,
    layout,
    line,
)
from shopfloor.web.i18n.formats import percent
from shopfloor.web.i18n.language import say
from shopfloor.web.quality import ages
from shopfloor.web.quality.life_words import ENDED

_HEIGHT_PX, _BELOW_PX = 380, 110
_LOOKS = {
    Mode.BREAK: {"color": CHANGE, "band": CHANGE_BAND, "dash": "solid"},
    Mode.WEAR: {"color": FITTED, "band": FITTED_BAND, "dash": "dash"},
}
_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


def endings_figure(endings: Endings, unit: AgeUnit) -> Figure:
    """Share of all taps that has failed by each mode, by age."""
    known = [mode for mode in Mode if mode.value in endings.incidence.by_mode]
    traces = [trace for mode in known for trace in _steps(endings, mode, unit)]
    return {
        "data": traces,
        "layout": layout(
            height=_HEIGHT_PX,
            margin={"l": 72, "r": 16, "t": 12, "b": _BELOW_PX},
            xaxis=axis(ages.title(unit), range=[0, endings.last_age], gridcolor=LINE, zeroline=False,
                       **ages.axis_format(unit)),
            yaxis=axis(say("Of all taps"), range=[-0.02, 1.03], tickvals=_SHARES,
                       ticktext=[percent(share) for share in _SHARES], gridcolor=LINE, zeroline=False),
            legend={"orientation": "h", "y": -0.27, "x": 0, "yanchor": "top", "font": {"size": FONT_PX}},
        ),
    }  # fmt: skip


def _steps(endings: Endings, mode: Mode, unit: AgeUnit) -> list[Trace]:
    known, looks = endings.incidence, _LOOKS[mode]
    at = np.concatenate([[0.0], known.ages, [endings.last_age]])
    share, lower, upper = (_held(part[mode.value]) for part in (known.by_mode, known.lower, known.upper))
    band = area(np.repeat(at, 2)[1:], np.repeat(lower, 2)[:-1], np.repeat(upper, 2)[:-1])
    name = say(ENDED[mode].lower())
    band_name = say(phrase("{level} band, {name}", level=percent(known.level), name=name))
    style = {"color": looks["color"], "width": 3, "shape": "hv", "dash": looks["dash"]}
    return [
        {**band, "name": band_name, "fillcolor": looks["band"], "showlegend": False},
        {**line(at, share), "name": name, "line": style, "hovertemplate": ages.share_at(name, unit)},
    ]


def _held(values: FloatArray) -> FloatArray:
    """Zero at age 0; the last value held to the end of the data."""
    return np.concatenate([[0.0], values, values[-1:]])
