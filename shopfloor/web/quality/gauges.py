"""A failed gauge check: which parts are suspect, what was reported, and the form to report the cause."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from uuid import UUID

from flask import render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.input.incident_report import read_check_report
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality.failed_checks import ReportedCheck, failed_check, report_failed_check
from shopfloor.web.context import work
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.revision import revise
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.quality import sentences
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.forms import AgainGaugeForm, FirstGaugeForm


@blueprint.get("/gauge/<uuid:check>")
def gauge(check: UUID) -> str:
    """The suspect runs of a failed check, and what was reported."""
    return _page(failed_check(work(), check))


@blueprint.post("/gauge/<uuid:check>")
def tell_gauge(check: UUID) -> ResponseReturnValue:
    """Report why the tap failed; earlier reports stay readable."""
    told = failed_check(work(), check)
    form = FirstGaugeForm(request.form) if told.present is None else AgainGaugeForm(request.form)

    def report() -> None:
        change, signed = read_check_report(form.raw())
        report_failed_check(work(), check, change, signed.reason, signed.person)

    onward = url_for("quality.gauge", check=told.incident.check)
    return revise(form, report, partial(_page, told, form=form), done=phrase("Kept"), onward=onward)


def _page(told: ReportedCheck, complaints: Sequence[Complaint] = (), form: SignedForm | None = None) -> str:
    return render_template(
        "quality/gauge.html", told=told, form=form or _filled(told), complaints=complaints, say=sentences
    )


def _filled(told: ReportedCheck) -> SignedForm:
    present = told.present
    if present is None:
        return FirstGaugeForm(cause=Cause.NOT_KNOWN.value)
    return AgainGaugeForm(incident=str(present.id), cause=present.cause.value, account=present.account or "")
