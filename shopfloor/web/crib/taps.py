"""Find a tap, see its history, and book what happens to it."""

from __future__ import annotations

from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.crib_entries import read_gauge, read_move
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.catalogue.labels import tap_code
from shopfloor.services.crib.tap_history import exact_code, find_taps, tap_history
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movements import move_tap
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.forms import GaugeForm, MoveForm
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.i18n.language import say

_KEPT_FAILED = phrase("Saved: failed. Parts made since the last check that passed are suspect: see them at the check")


@blueprint.get("/taps")
def taps() -> ResponseReturnValue:
    """Search by code; an exact code leads straight to its tap."""
    code = request.args.get("code", "").strip()
    if not code:
        return render_template("crib/taps.html", code="", taps=find_taps(work()))
    exact = exact_code(work(), tap_code(work(), code))
    if exact is not None:
        return redirect(url_for("crib.tap", code=exact), 303)
    return _unknown(code)


@blueprint.get("/taps/<path:code>")
def tap(code: str) -> ResponseReturnValue:
    """The history of one tap."""
    if exact_code(work(), code) is None:
        return _unknown(code)
    return _tap_page(code)


@blueprint.post("/gauge/<path:code>")
def gauge(code: str) -> ResponseReturnValue:
    """Store a GO/NO-GO check."""
    form = GaugeForm(request.form, prefix="gauge-")
    try:
        entry = read_gauge(form.raw())
        record_gauge_check(work(), entry.id, code, entry.result, entry.person, note=entry.note)
    except InputError as error:
        return _refused(code, error, gauge_form=form)
    form.remember()
    flash(say(_KEPT_FAILED if entry.result is GaugeResult.FAILED else phrase("Saved: passed")))
    return redirect(url_for("crib.tap", code=code), 303)


@blueprint.post("/moves/<path:code>")
def move(code: str) -> ResponseReturnValue:
    """Book what became of the tap."""
    form = MoveForm(request.form, prefix="move-")
    try:
        entry = read_move(form.raw())
        move_tap(work(), entry.id, code, entry.movement, entry.person, note=entry.note)
    except InputError as error:
        return _refused(code, error, move_form=form)
    form.remember()
    flash(say(phrase("Booked: {what}", what=entry.movement.label.lower())))
    return redirect(url_for("crib.tap", code=code), 303)


def _refused(
    code: str, error: InputError, gauge_form: GaugeForm | None = None, move_form: MoveForm | None = None
) -> ResponseReturnValue:
    if exact_code(work(), code) is None:
        return _unknown(code)
    form = gauge_form or move_form
    complaints = form.refuse(error) if form else ()
    return _tap_page(code, complaints, gauge_form, move_form), 409 if isinstance(error, Conflict) else 400


def _tap_page(
    code: str,
    complaints: Sequence[Complaint] = (),
    gauge_form: GaugeForm | None = None,
    move_form: MoveForm | None = None,
) -> str:
    history = tap_history(work(), code)
    move_form = move_form or MoveForm(prefix="move-")
    move_form.offer(history.possible_moves)
    return render_template(
        "crib/tap.html",
        history=history,
        gauge_form=gauge_form or GaugeForm(prefix="gauge-"),
        move_form=move_form,
        complaints=complaints,
    )


def _unknown(code: str) -> ResponseReturnValue:
    near = find_taps(work(), code)
    complaint = Complaint(
        "code", say(phrase("{code} is not a tap of this shop; type or scan it again", code=shown(code)))
    )
    return render_template("crib/taps.html", code=code, taps=near, complaints=[complaint]), 404
