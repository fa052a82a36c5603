"""A careful start: how many fresh taps are expected to have failed by each age, and the initial change age."""

from __future__ import annotations

import numpy as np

from shopfloor.core.phrases import phrase
from shopfloor.core.units import AgeUnit
from shopfloor.services.quality.careful_start import CarefulStart
from shopfloor.web.drawing.charts import FITTED, FITTED_BAND, FONT_PX, LINE, Figure, area, axis, layout, line
from shopfloor.web.i18n.formats import percent
from shopfloor.web.i18n.language import say
from shopfloor.web.quality import ages
from shopfloor.web.quality.life_figure import upright, upright_label

_HEIGHT_PX, _BELOW_PX = 340, 100
_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


def start_figure(start: CarefulStart) -> Figure:
    """The table's chances as a line with its band, the initial change age as a vertical line."""
    at = np.array([0.0, *(row.age for row in start.rows)])
    value, lower, upper = (
        np.array([0.0, *(getattr(row.failed, part) for row in start.rows)]) for part in ("value", "lower", "upper")
    )
    name = say(phrase("Expected to have failed"))
    end = float(at[-1])
    band = say(phrase("{level} interval", level=percent(start.level)))
    return {
        "data": [
            {**area(at, lower, upper), "name": band, "fillcolor": FITTED_BAND},
            {**line(at, value), "name": name, "line": {"color": FITTED, "width": 3},
             "hovertemplate": ages.share_at(name, AgeUnit.HOLES)},
        ],
        "layout": layout(
            height=_HEIGHT_PX,
            margin={"l": 72, "r": 16, "t": 12, "b": _BELOW_PX},
            xaxis=axis(ages.title(AgeUnit.HOLES), range=[0, end], gridcolor=LINE, zeroline=False, tickformat=",d"),
            yaxis=axis(say("Of fresh taps"), range=[-0.02, 1.03], tickvals=_SHARES,
                       ticktext=[percent(share) for share in _SHARES], gridcolor=LINE, zeroline=False),
            legend={"orientation": "h", "y": -0.3, "x": 0, "yanchor": "top", "font": {"size": FONT_PX}},
            shapes=[] if start.age is None else [upright(start.age)],
            annotations=[] if start.age is None else [upright_label(start.age, end, AgeUnit.HOLES)],
        ),
    }  # fmt: skip
