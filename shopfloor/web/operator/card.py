"""The set-up card: what keeps this tap alive in this hole, on one page and one sheet."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopfloor.services.station.set_up_card import card_at
from shopfloor.web.context import work
from shopfloor.web.drawing.hole import draw_hole
from shopfloor.web.i18n.measures import show_in
from shopfloor.web.tablet import memory


def show(station: str) -> str | Response:
    """The card of the job named in the address, else of the one at this station."""
    job = request.args.get("job") or memory.job_at(station)
    if job is None:
        return redirect(url_for("operator.job", station=station), 303)
    found = card_at(work(), station, job)
    show_in(found.job.units)
    drawing = None if found.card is None else draw_hole(found.card)
    return render_template("operator/card.html", found=found, card=found.card, drawing=drawing)
