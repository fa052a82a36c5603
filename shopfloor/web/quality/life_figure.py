"""Life curves: the step curve with its band, the fitted curve over it, and each life as a mark."""

from __future__ import annotations

import numpy as np

from shopfloor.core.phrases import Phrase, phrase
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.estimates import Band
from shopfloor.core.survival.survival_curve import SurvivalCurve
from shopfloor.core.units import AgeUnit
from shopfloor.services.quality.life_curves import LifeCurve
from shopfloor.web.drawing.charts import (
    CHANGE,
    FITTED,
    FITTED_BAND,
    FONT_PX,
    INK,
    LINE,
    SOFT,
    STEPS_BAND,
    Figure,
    Trace,
    area,
    axis,
    layout,
    line,
    short,
)
from shopfloor.web.i18n.formats import percent
from shopfloor.web.i18n.language import say
from shopfloor.web.quality import ages

_QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
_BELOW_PX = 160
_LIFE_PX = 520
_FAILED_AT, _GOOD_AT = -0.045, -0.095


def life_figure(curve: LifeCurve, change_at: float | None, still_good: str) -> Figure:
    """Share of taps still good by age: step curve with its band, the fitted curve over it, each life as a mark.

    The fitted curve is solid as far as the data go and dashed beyond; `change_at` is drawn as a vertical line.
    """
    end = float(curve.beyond.ages[-1])
    traces = [*_steps(curve.steps, curve.unit), *_fit(curve), *_marks(curve)]
    is_in_sight = change_at is not None and change_at <= end
    return {
        "data": traces,
        "layout": layout(
            height=_LIFE_PX,
            margin={"l": 72, "r": 16, "t": 12, "b": _BELOW_PX},
            xaxis=axis(ages.title(curve.unit), range=[0, end], gridcolor=LINE, zeroline=False,
                       **ages.axis_format(curve.unit)),
            yaxis=axis(say(still_good), range=[-0.13, 1.03], tickvals=_QUARTERS,
                       ticktext=[percent(share) for share in _QUARTERS], gridcolor=LINE, zeroline=False),
            legend={"orientation": "h", "y": -0.21, "x": 0, "yanchor": "top", "font": {"size": FONT_PX}},
            shapes=[upright(change_at)] if is_in_sight else [],
            annotations=[upright_label(change_at, end, curve.unit)] if is_in_sight and change_at is not None else [],
        ),
    }  # fmt: skip


def _steps(steps: SurvivalCurve, unit: AgeUnit) -> list[Trace]:
    name = say(phrase("{method} curve", method=steps.method))
    at = np.concatenate([[0.0], steps.ages, [steps.last_age]])
    share = _held(steps.survival, 1.0)
    band = area(
        np.repeat(at, 2)[1:], np.repeat(_held(steps.lower, 1.0), 2)[:-1], np.repeat(_held(steps.upper, 1.0), 2)[:-1]
    )
    style = {"color": INK, "width": 2, "shape": "hv"}
    return [
        {
            **band,
            "name": say(phrase("{level} band of the curve", level=percent(steps.level))),
            "fillcolor": STEPS_BAND,
            "legendrank": 2,
        },
        {**line(at, share), "name": name, "line": style, "hovertemplate": ages.share_at(name, unit), "legendrank": 1},
    ]


def _held(values: FloatArray, start: float) -> FloatArray:
    """A step curve's values from age 0, the last one held to the end of the data."""
    known = np.concatenate([[start], values])
    return np.concatenate([known, known[-1:]])


def _fit(curve: LifeCurve) -> list[Trace]:
    at, lower, upper = (
        np.concatenate([getattr(curve.inside, part), getattr(curve.beyond, part)])
        for part in ("ages", "lower", "upper")
    )
    level = percent(curve.fit.level)
    if curve.inside.survival is None:
        name, style = (
            say(phrase("lower bound, {level} sure", level=level)),
            {"color": FITTED, "width": 2, "dash": "dot"},
        )
        return [
            {
                **line(at, lower),
                "name": name,
                "line": style,
                "hovertemplate": ages.share_at(name, curve.unit),
            }
        ]
    return [
        {
            **area(at, lower, upper),
            "name": say(phrase("{level} band of the fit", level=level)),
            "fillcolor": FITTED_BAND,
            "legendrank": 5,
        },
        _law(curve.inside, say("Weibull fit"), "solid", 3, curve.unit),
        _law(curve.beyond, say("fit beyond the data"), "dash", 4, curve.unit),
    ]


def _law(band: Band, name: str, dash: str, rank: int, unit: AgeUnit) -> Trace:
    share = np.zeros(0) if band.survival is None else band.survival
    style = {"color": FITTED, "width": 3, "dash": dash}
    hover = ages.share_at(name, unit)
    return {**line(band.ages, share), "name": name, "line": style, "hovertemplate": hover, "legendrank": rank}


def _marks(curve: LifeCurve) -> list[Trace]:
    """A cross for each failure (with a bar over its interval), a vertical tick for each life still good."""
    lives, failed = curve.lives, curve.lives.is_failure
    middle = (lives.lower[failed] + lives.upper[failed]) / 2
    half = (lives.upper[failed] - lives.lower[failed]) / 2
    crosses = _rug(
        middle,
        _FAILED_AT,
        say("failed (bar: somewhere within)") if half.any() else say("failed"),
        "x-thin-open",
        curve.unit,
    )
    if half.any():
        crosses["error_x"] = {"type": "data", "array": short(half), "color": CHANGE, "thickness": 1, "width": 0}
    crosses["marker"] |= {"color": CHANGE, "line": {"color": CHANGE, "width": 1.5}}
    return [crosses, _rug(lives.lower[~failed], _GOOD_AT, say("still good when last seen"), "line-ns-open", curve.unit)]


def _rug(at: FloatArray, height: float, name: str, symbol: str, unit: AgeUnit) -> Trace:
    marker = {"symbol": symbol, "size": 9, "color": SOFT, "line": {"color": SOFT, "width": 1.5}}
    return {
        "type": "scatter", "mode": "markers", "x": short(at), "y": [height] * len(at), "name": name,
        "marker": marker, "hovertemplate": ages.mark(name, unit),
    }  # fmt: skip


def upright(at: float | None) -> Figure:
    """The line at the suggested change."""
    return {"type": "line", "x0": at, "x1": at, "y0": 0, "y1": 1, "line": {"color": CHANGE, "width": 3, "dash": "dot"}}


def upright_label(at: float, end: float, unit: AgeUnit) -> Figure:
    """The line's label, on the side with room for it."""
    figure = ages.figure_of(at, unit)
    if ages.is_holes(unit):
        told = phrase("change at {holes} holes", holes=figure)
    else:
        told = phrase("change at {length} of thread", length=ages.length(figure, unit))
    side = "left" if at < 0.7 * end else "right"
    return {
        "x": at, "y": 1, "text": f" {say(told)} ",
        "xanchor": side, "yanchor": "top",
        "showarrow": False, "font": {"color": CHANGE, "size": FONT_PX + 1},
    }  # fmt: skip


def life_summary(curve: LifeCurve) -> str:
    """The figure in a sentence, for people who cannot see it."""
    taps = curve.evidence.taps
    if ages.is_holes(curve.unit):
        by_holes = phrase(
            "Share of taps still good by holes on the tap, {taps} taps: {told}; values in the table",
            taps=taps,
            told=_by_the_fit(curve),
        )
        return say(by_holes)
    return say(
        phrase(
            "Share of taps still good by the thread that they cut, {taps} taps: {told}; values in the table",
            taps=taps,
            told=_by_the_fit(curve),
        )
    )


def _by_the_fit(curve: LifeCurve) -> Phrase:
    middle = curve.inside.survival
    if middle is None:
        return phrase("no fit")
    share, unit = percent(float(middle[len(middle) // 2])), curve.unit
    half = ages.floor_of(float(curve.inside.ages[len(curve.inside.ages) // 2]), unit)
    if ages.is_holes(unit):
        return phrase("by the fit {share} still good at {holes} holes", share=share, holes=half)
    length = ages.length(half, unit)
    return phrase("by the fit {share} still good at {length} of thread", share=share, length=length)
