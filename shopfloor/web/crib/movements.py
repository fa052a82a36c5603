"""Put a stock movement right: correct or cancel it, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from shopfloor.core.errors import Conflict, InputError
from shopfloor.services.ledger import movement_corrections
from shopfloor.services.ledger.movement_corrections import MoveHistory, move_history
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.entries import read_movement
from shopfloor.web.crib.forms import MovementForm
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.signature import ReasonedForm, read_signed
from shopfloor.web.i18n.formats import typed_time
from shopfloor.web.i18n.language import say


@blueprint.get("/movements/<uuid:movement>")
def movement(movement: UUID) -> str:
    """A movement, what it said before, and the forms that put it right."""
    return _page(move_history(work(), movement))


@blueprint.post("/movements/<uuid:movement>")
def correct_movement(movement: UUID) -> ResponseReturnValue:
    """Store what the movement should have said; the old one stays readable."""
    history, form = move_history(work(), movement), MovementForm(request.form)
    form.keep(history)
    try:
        change, signed = read_movement(form.raw(), history)
        movement_corrections.correct_movement(work(), movement, change, signed.reason, signed.person)
    except InputError as error:
        return _page(history, form.refuse(error), form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Movement corrected"))
    return _back(history)


@blueprint.post("/movements/<uuid:movement>/cancel")
def cancel_movement(movement: UUID) -> ResponseReturnValue:
    """Make the movement count no longer."""
    history, form = move_history(work(), movement), ReasonedForm(request.form, prefix="cancel-")
    try:
        signed = read_signed(form.raw())
        movement_corrections.cancel_movement(work(), movement, signed.reason, signed.person)
    except InputError as error:
        return _page(history, form.refuse(error), cancel_form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Movement cancelled"))
    return _back(history)


def _back(history: MoveHistory) -> Response:
    if history.move.tap is not None:
        return redirect(url_for("crib.tap", code=history.move.tap), 303)
    return redirect(url_for("crib.ledger", code=history.tap_type), 303)


def _page(
    history: MoveHistory,
    complaints: Sequence[Complaint] = (),
    form: MovementForm | None = None,
    cancel_form: ReasonedForm | None = None,
) -> str:
    return render_template(
        "crib/movement.html",
        history=history,
        form=form or _filled(history),
        cancel_form=cancel_form or ReasonedForm(prefix="cancel-"),
        complaints=complaints,
    )


def _filled(history: MoveHistory) -> MovementForm:
    move = history.move
    number = "" if history.number is None else str(history.number)
    form = MovementForm(
        moved_at=typed_time(move.moved_at), station=move.station or "", number=number, note=move.note or ""
    )
    form.keep(history)
    return form
