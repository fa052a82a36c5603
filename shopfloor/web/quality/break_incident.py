"""The incident of one break: what is known, its earlier versions, and the forms that correct or cancel it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from uuid import UUID

from flask import render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.input.incident_report import read_incident, read_seen
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality import incidents
from shopfloor.services.quality.incidents import BreakIncident, incident_of
from shopfloor.services.quality.photographs import photographs_of
from shopfloor.web.context import work
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.revision import revise
from shopfloor.web.forms.signature import ReasonedForm
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.forms import IncidentForm, SeenForm, photograph_form


@blueprint.get("/incidents/<uuid:run>")
def incident(run: UUID) -> str:
    """What is known of a break, and the earlier versions."""
    return incident_page(incident_of(work(), run))


@blueprint.post("/incidents/<uuid:run>")
def correct_incident(run: UUID) -> ResponseReturnValue:
    """Correct the incident; the earlier version stays readable."""
    told, form = incident_of(work(), run), IncidentForm(request.form)

    def correct() -> None:
        change, signed = read_incident(form.raw())
        incidents.correct_incident(work(), run, change, signed.reason, signed.person)

    page = partial(incident_page, told, form=form)
    return revise(form, correct, page, done=phrase("Incident corrected"), onward=address_of(told))


@blueprint.post("/incidents/<uuid:run>/cancel")
def cancel_incident(run: UUID) -> ResponseReturnValue:
    """Cancel the incident of a break."""
    told, form = incident_of(work(), run), SeenForm(request.form, prefix="cancel-")

    def cancel() -> None:
        seen, signed = read_seen(form.raw())
        incidents.cancel_incident(work(), run, seen, signed.reason, signed.person)

    page = partial(incident_page, told, cancel_form=form)
    done = phrase("Incident cancelled: the cause of this break is not known")
    return revise(form, cancel, page, done=done, onward=address_of(told))


def address_of(incident: BreakIncident) -> str:
    """The address of the incident's page."""
    return url_for("quality.incident", run=incident.run)


def incident_page(
    told: BreakIncident,
    complaints: Sequence[Complaint] = (),
    form: IncidentForm | None = None,
    cancel_form: SeenForm | None = None,
    photograph_forms: Mapping[UUID, ReasonedForm] | None = None,
) -> str:
    """The page of a break, with a refused form as it was filled in."""
    shown = photographs_of(work(), told.run)
    fresh = {one.id: photograph_form(one.id) for one in shown if one.change is None}
    return render_template(
        "quality/incident.html",
        incident=told,
        form=form or _filled(told),
        cancel_form=cancel_form or _cancel_form(told),
        photographs=shown,
        photograph_forms=fresh | dict(photograph_forms or {}),
        complaints=complaints,
    )


def _filled(told: BreakIncident) -> IncidentForm:
    present = told.present
    return IncidentForm(
        incident=str(present.id) if present else "",
        cause=(present.cause if present else Cause.NOT_KNOWN).value,
        part_fate=told.fate.value if told.fate else "",
        account=(present.account if present else None) or "",
    )


def _cancel_form(told: BreakIncident) -> SeenForm | None:
    return SeenForm(prefix="cancel-", incident=str(told.present.id)) if told.present else None
