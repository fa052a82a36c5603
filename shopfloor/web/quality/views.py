"""Screens of the quality lead: where taps break, each break, how long taps live."""

from __future__ import annotations

from flask import render_template, request

from shopfloor.core.vocabulary import Cause, Mode
from shopfloor.services.quality.breakage import Period, breakage, incidents
from shopfloor.services.quality.failed_checks import failed_checks
from shopfloor.services.quality.life_curves import life_curve
from shopfloor.web.context import work
from shopfloor.web.quality import ages, break_incident, gauges, life_words, photographs, questions, sentences
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.breakage_map import breakage_map
from shopfloor.web.quality.endings_figure import endings_figure
from shopfloor.web.quality.life_figure import life_figure, life_summary
from shopfloor.web.quality.start_figure import start_figure
from shopfloor.web.security.policy import allow_chart

__all__ = ["blueprint", "gauges", "photographs", "break_incident"]


@blueprint.get("/")
def board() -> str:
    """Breaks and cutting slips per 1,000 holes by material and speed."""
    allow_chart()
    tap_type, period = questions.text(request.args, "tap_type"), questions.period(request.args)
    found = breakage(work(), tap_type, period)
    figure = breakage_map(found) if found.places else None
    return render_template(
        "quality/board.html",
        found=found,
        figure=figure,
        failed=failed_checks(work(), period.start(work().clock()), tap_type),
        tap_type=tap_type,
        period=period,
        periods=Period,
        say=sentences,
    )


@blueprint.get("/incidents")
def incident_list() -> str:
    """Every break and every failed gauge check of a period, with its incident."""
    period, cause = questions.period(request.args), questions.cause(request.args)
    found = incidents(work(), period, cause, questions.page(request.args))
    return render_template(
        "quality/incidents.html", found=found, period=period, cause=cause, periods=Period, causes=Cause, say=sentences
    )


@blueprint.get("/life")
def life() -> str:
    """How long taps of one type live in one material and speed."""
    allow_chart()
    found = life_curve(work(), questions.life(request.args))
    curve, mode = found.curve, found.question.mode
    return render_template(
        "quality/life.html",
        found=found,
        curve=curve,
        figure=life_figure(curve, found.change_at, sentences.STILL_GOOD[mode]) if curve else None,
        summary=life_summary(curve) if curve else "",
        endings_figure=endings_figure(curve.endings, curve.unit) if curve and curve.endings else None,
        start=found.start,
        start_figure=start_figure(found.start) if found.start else None,
        modes=Mode,
        say=sentences,
        words=life_words,
        ages=ages,
    )
