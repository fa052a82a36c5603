"""Put a gauge check right: correct or cancel it, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.services.ledger import gauge_check_corrections
from shopfloor.services.ledger.gauge_check_corrections import CheckHistory, check_history
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.entries import read_check
from shopfloor.web.crib.forms import CheckForm
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.signature import ReasonedForm, read_signed
from shopfloor.web.i18n.formats import typed_time
from shopfloor.web.i18n.language import say


@blueprint.get("/checks/<uuid:check>")
def check(check: UUID) -> str:
    """A gauge check, what it said before, and the forms that put it right."""
    return _page(check_history(work(), check))


@blueprint.post("/checks/<uuid:check>")
def correct_check(check: UUID) -> ResponseReturnValue:
    """Store what the check should have said; the old one stays readable."""
    history, form = check_history(work(), check), CheckForm(request.form)
    try:
        change, signed = read_check(form.raw(), history.check)
        gauge_check_corrections.correct_check(work(), check, change, signed.reason, signed.person)
    except InputError as error:
        return _page(history, form.refuse(error), form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Gauge check corrected"))
    return redirect(url_for("crib.tap", code=history.tap), 303)


@blueprint.post("/checks/<uuid:check>/cancel")
def cancel_check(check: UUID) -> ResponseReturnValue:
    """Make the check count no longer."""
    history, form = check_history(work(), check), ReasonedForm(request.form, prefix="cancel-")
    try:
        signed = read_signed(form.raw())
        gauge_check_corrections.cancel_check(work(), check, signed.reason, signed.person)
    except InputError as error:
        return _page(history, form.refuse(error), cancel_form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Gauge check cancelled"))
    return redirect(url_for("crib.tap", code=history.tap), 303)


def _page(
    history: CheckHistory,
    complaints: Sequence[Complaint] = (),
    form: CheckForm | None = None,
    cancel_form: ReasonedForm | None = None,
) -> str:
    return render_template(
        "crib/check.html",
        history=history,
        form=form or _filled(history),
        cancel_form=cancel_form or ReasonedForm(prefix="cancel-"),
        complaints=complaints,
    )


def _filled(history: CheckHistory) -> CheckForm:
    check = history.check
    return CheckForm(result=check.result.value, checked_at=typed_time(check.checked_at), note=check.note or "")
