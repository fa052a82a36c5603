"""Lists of people, stations, materials and jobs, each with a form to add one."""

from __future__ import annotations

from collections.abc import Sequence

from flask import abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import InputError
from shopfloor.core.input.catalogue_entries import read_life_measure
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.labels import job_labels, station_labels
from shopfloor.services.catalogue.similar_codes import alike
from shopfloor.services.catalogue.tap_types import tap_type_codes
from shopfloor.services.catalogue.things import add, listing, set_job_open
from shopfloor.services.shop import count_life_in, life_counted_in
from shopfloor.services.station.choices import stations
from shopfloor.web.context import work
from shopfloor.web.drawing.labels import SIZES, sheet_of
from shopfloor.web.forms.fields import Complaint, Form, explain, raw
from shopfloor.web.i18n.language import locale, say
from shopfloor.web.i18n.numbers import marks
from shopfloor.web.setup import alike_codes, changes
from shopfloor.web.setup.blueprint import blueprint
from shopfloor.web.setup.forms import FORMS, JobForm, LifeMeasureForm
from shopfloor.web.setup.words import TAP_TYPES, THINGS, Step
from shopfloor.web.tablet import memory

__all__ = ["alike_codes", "blueprint", "changes"]

_LABELS = {"jobs": job_labels, "stations": station_labels}
"""Kinds of things with labels, and the service that makes them; the crib labels the taps."""


@blueprint.get("/")
def start() -> str:
    """What a shop sets up, in order, and how many of each there are."""
    return _start(LifeMeasureForm(measure=life_counted_in(work()).value))


@blueprint.post("/life-measure")
def life_measure() -> ResponseReturnValue:
    """Count lives in holes, or in length of thread."""
    form = LifeMeasureForm(request.form)
    try:
        measure = read_life_measure(raw(form))
    except InputError as error:
        return _start(form, explain(form, error)), 400
    count_life_in(work(), measure, memory.person())
    flash(say(phrase("Lives are counted in: {measure}", measure=measure.label.lower())))
    return redirect(url_for("setup.start"), 303)


@blueprint.get("/<kind>")
def things(kind: str) -> str:
    """The list of one kind and the form to add one."""
    return _page(kind, _form(kind))


@blueprint.post("/<kind>")
def add_thing(kind: str) -> ResponseReturnValue:
    """Add one."""
    form = _form(kind)
    try:
        code = add(work(), kind, raw(form), marks(locale()).decimal, memory.person())
    except InputError as error:
        return _page(kind, form, explain(form, error)), 400
    flash(say(phrase("Added: {code}", code=code)))
    return redirect(url_for("setup.things", kind=kind), 303)


@blueprint.post("/jobs/<path:code>/open")
def open_job(code: str) -> ResponseReturnValue:
    """Close or reopen a job."""
    is_open = request.form.get("is_open") == "yes"
    set_job_open(work(), code, is_open=is_open, by=memory.person())
    flash(say(phrase("Open again: {code}", code=code) if is_open else phrase("Closed: {code}", code=code)))
    return redirect(url_for("setup.things", kind="jobs"), 303)


@blueprint.get("/<kind>/labels")
def labels(kind: str) -> str:
    """Labels to print, of the open jobs or of the stations."""
    if kind not in _LABELS:
        abort(404)
    sheet = sheet_of(_LABELS[kind](work()))
    return render_template("setup/labels.html", kind=kind, thing=THINGS[kind], sheet=sheet, sizes=SIZES)


@blueprint.get("/jobs/<path:code>/card")
def card_where(code: str) -> str:
    """Choose the station for a job's set-up card."""
    return render_template("setup/card_where.html", job=code, stations=stations(work()))


def _start(form: LifeMeasureForm, complaints: Sequence[Complaint] = ()) -> str:
    steps = [_step(kind) for kind in THINGS]
    return render_template(
        "setup/start.html", steps=steps, form=form, complaints=complaints, has_alike=bool(alike(work()))
    )


def _step(kind: str) -> Step:
    if kind == TAP_TYPES:
        return Step(kind, url_for("crib.new_type"), len(tap_type_codes(work())))
    return Step(kind, url_for("setup.things", kind=kind), len(listing(work(), kind)))


def _form(kind: str) -> Form:
    if kind not in FORMS:
        abort(404)
    form = FORMS[kind](request.form)
    if isinstance(form, JobForm):
        form.offer(listing(work(), "materials"))
        form.units.data = form.units.data or work().settings.units
    return form


def _page(kind: str, form: Form, complaints: Sequence[Complaint] = ()) -> str:
    return render_template(
        "setup/things.html",
        kind=kind,
        thing=THINGS[kind],
        form=form,
        complaints=complaints,
        rows=listing(work(), kind),
        has_labels=kind in _LABELS,
    )
