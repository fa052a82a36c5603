"""Correct or cancel a gauge check, with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from uuid import UUID

from flask import render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.input.crib_entries import read_check_change
from shopfloor.core.input.signature import read_signed
from shopfloor.core.phrases import phrase
from shopfloor.services.ledger import gauge_check_corrections
from shopfloor.services.ledger.gauge_check_corrections import CheckHistory, check_history
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.forms import CheckForm, shown_time
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.revision import revise
from shopfloor.web.forms.signature import ReasonedForm
from shopfloor.web.i18n.formats import typed_time


@blueprint.get("/checks/<uuid:check>")
def check(check: UUID) -> str:
    """A gauge check, its earlier versions, and the forms that correct or cancel it."""
    return _page(check_history(work(), check))


@blueprint.post("/checks/<uuid:check>")
def correct_check(check: UUID) -> ResponseReturnValue:
    """Store what the check should have said; the old one stays readable."""
    history, form = check_history(work(), check), CheckForm(request.form)

    def correct() -> None:
        change, signed = read_check_change(form.raw(), shown_time(history.check.checked_at))
        gauge_check_corrections.correct_check(work(), check, change, signed.reason, signed.person)

    page = partial(_page, history, form=form)
    return revise(form, correct, page, done=phrase("Gauge check corrected"), onward=_back(history))


@blueprint.post("/checks/<uuid:check>/cancel")
def cancel_check(check: UUID) -> ResponseReturnValue:
    """Cancel the check."""
    history, form = check_history(work(), check), ReasonedForm(request.form, prefix="cancel-")

    def cancel() -> None:
        signed = read_signed(form.raw())
        gauge_check_corrections.cancel_check(work(), check, signed.reason, signed.person)

    page = partial(_page, history, cancel_form=form)
    return revise(form, cancel, page, done=phrase("Gauge check cancelled"), onward=_back(history))


def _back(history: CheckHistory) -> str:
    return url_for("crib.tap", code=history.tap)


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
