"""A scanned label or typed code opens its station, chooses its job or fits its tap."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.labels import CODE, Label, Labelled
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.labels import Misread, find_label, label_of
from shopfloor.services.station import choices, fitting
from shopfloor.services.station import page as at
from shopfloor.web.context import work
from shopfloor.web.forms.fields import explain
from shopfloor.web.operator.forms import ScanForm
from shopfloor.web.tablet import memory


def scan() -> str:
    """The field for a code; an open station stays open."""
    form = ScanForm()
    form.station.data = request.args.get("station", "")
    return _page(form)


def take_scan() -> tuple[str, int] | Response:
    """Do what the label is for."""
    form = ScanForm(request.form)
    try:
        return _follow(_label(form), form.station.data or "")
    except InputError as error:
        return _page(form, error), 409 if isinstance(error, Conflict) else 400


def _label(form: ScanForm) -> Label:
    if form.kind.data:
        return label_of(work(), form.kind.data, form.meant.data or "")
    return find_label(work(), form.code.data or "")


def _follow(label: Label, station: str) -> Response:
    if label.kind is Labelled.STATION:
        return redirect(url_for("operator.station", station=label.code), 303)
    if not station:
        kind = label.kind.label.lower()
        raise InputError.of(
            CODE,
            phrase("{code} is a {kind}, and no station is open", code=label.code, kind=kind),
            "scan the station's label first",
        )
    if label.kind is Labelled.JOB:
        _choose_job(station, label.code)
    else:
        _fit(station, label.code)
    return redirect(url_for("operator.station", station=station), 303)


def _choose_job(station: str, code: str) -> None:
    if code not in [job.code for job in choices.jobs(work(), station)]:
        raise InputError.of(
            CODE, phrase("job {code} is closed, or its thread is not known", code=code), "scan a job that is open"
        )
    memory.remember_job(station, code)


def _fit(station: str, code: str) -> None:
    """Fit the tap, unless it is in the station already; person and job are asked first if not known."""
    page = at.at_station(work(), station, memory.person(), memory.job_at(station))
    if page.person is None or page.job is None or (page.tap is not None and page.tap.code == code):
        return
    fitting.fit(work(), code, page.station.code, page.job.code, page.person.code)


def _page(form: ScanForm, error: InputError | None = None) -> str:
    form.kind.data = form.meant.data = ""
    return render_template(
        "operator/scan.html",
        form=form,
        near=error.near if isinstance(error, Misread) else (),
        complaints=explain(form, error, called={"tap": CODE}) if error else [],
    )
