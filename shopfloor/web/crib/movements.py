"""Correct or cancel a stock movement, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from uuid import UUID

from flask import render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.input.crib_entries import read_move_change
from shopfloor.core.input.signature import read_signed
from shopfloor.core.phrases import phrase
from shopfloor.services.ledger import movement_corrections
from shopfloor.services.ledger.movement_corrections import MoveHistory, move_history
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.forms import MovementForm, shown_time
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.revision import revise
from shopfloor.web.forms.signature import ReasonedForm
from shopfloor.web.i18n.formats import typed_time


@blueprint.get("/movements/<uuid:movement>")
def movement(movement: UUID) -> str:
    """A movement, its earlier versions, and the forms that correct or cancel it."""
    return _page(move_history(work(), movement))


@blueprint.post("/movements/<uuid:movement>")
def correct_movement(movement: UUID) -> ResponseReturnValue:
    """Store what the movement should have said; the old one stays readable."""
    history, form = move_history(work(), movement), MovementForm(request.form)
    form.keep(history)

    def correct() -> None:
        change, signed = read_move_change(form.raw(), shown_time(history.move.moved_at), history.number)
        movement_corrections.correct_movement(work(), movement, change, signed.reason, signed.person)

    page = partial(_page, history, form=form)
    return revise(form, correct, page, done=phrase("Movement corrected"), onward=_back(history))


@blueprint.post("/movements/<uuid:movement>/cancel")
def cancel_movement(movement: UUID) -> ResponseReturnValue:
    """Cancel the movement."""
    history, form = move_history(work(), movement), ReasonedForm(request.form, prefix="cancel-")

    def cancel() -> None:
        signed = read_signed(form.raw())
        movement_corrections.cancel_movement(work(), movement, signed.reason, signed.person)

    page = partial(_page, history, cancel_form=form)
    return revise(form, cancel, page, done=phrase("Movement cancelled"), onward=_back(history))


def _back(history: MoveHistory) -> str:
    if history.move.tap is not None:
        return url_for("crib.tap", code=history.move.tap)
    return url_for("crib.ledger", code=history.tap_type)


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
