"""A failed gauge check: which parts are suspect, what is told of it, and the form that tells it."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality.failed_checks import GaugeStoryTold, gauge_story, tell_gauge_story
from shopfloor.web.context import work
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.i18n.language import say
from shopfloor.web.quality import sentences
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.forms import FirstGaugeForm, GaugeStoryForm, read_gauge_story


@blueprint.get("/gauge/<uuid:check>")
def gauge(check: UUID) -> str:
    """The suspect runs of a failed check, and what was told of it."""
    return _page(gauge_story(work(), check))


@blueprint.post("/gauge/<uuid:check>")
def tell_gauge(check: UUID) -> ResponseReturnValue:
    """Tell why the tap failed; what was told before stays readable."""
    told = gauge_story(work(), check)
    form = FirstGaugeForm(request.form) if told.present is None else GaugeStoryForm(request.form)
    try:
        change, signed = read_gauge_story(form.raw())
        tell_gauge_story(work(), check, change, signed.reason, signed.person)
    except InputError as error:
        return _page(told, form.refuse(error), form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Kept"))
    return redirect(url_for("quality.gauge", check=told.incident.check), 303)


def _page(told: GaugeStoryTold, complaints: Sequence[Complaint] = (), form: SignedForm | None = None) -> str:
    return render_template(
        "quality/gauge.html", told=told, form=form or _filled(told), complaints=complaints, say=sentences
    )


def _filled(told: GaugeStoryTold) -> SignedForm:
    present = told.present
    if present is None:
        return FirstGaugeForm(cause=Cause.NOT_KNOWN.value)
    return GaugeStoryForm(story=str(present.id), cause=present.cause.value, account=present.account or "")
