"""Lists of people, stations, materials and jobs, each with a form to add one."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask_wtf import FlaskForm

from shopfloor.core.errors import InputError, Problem
from shopfloor.services.catalogue import KINDS, add, listing, set_job_open
from shopfloor.web.context import work
from shopfloor.web.setup.forms import FORMS, JobForm

blueprint = Blueprint("setup", __name__, url_prefix="/setup")

TITLES = {"people": "People", "stations": "Stations", "materials": "Materials", "jobs": "Jobs"}


@blueprint.get("/")
def start() -> str:
    """What can be named here, with how many there are."""
    return render_template(
        "setup/start.html", counts={kind: len(listing(work(), kind)) for kind in KINDS}, titles=TITLES
    )


@blueprint.get("/<kind>")
def things(kind: str) -> str:
    """The list of one kind and the form to add one."""
    return _page(kind, _form(kind), [])


@blueprint.post("/<kind>")
def add_thing(kind: str) -> Any:
    """Add one."""
    form = _form(kind)
    try:
        code = add(work(), kind, {name: field.data for name, field in form._fields.items() if name != "csrf_token"})
    except InputError as error:
        for problem in error.problems:
            if problem.field in form._fields:
                form._fields[problem.field].errors = [problem.sentence()]
        return _page(kind, form, list(error.problems)), 400
    return redirect(url_for("setup.things", kind=kind, added=code), 303)


@blueprint.post("/jobs/<code>/open")
def open_job(code: str) -> Any:
    """Close or reopen a job."""
    set_job_open(work(), code, is_open=request.form.get("is_open") == "yes")
    return redirect(url_for("setup.things", kind="jobs"), 303)


def _form(kind: str) -> FlaskForm:
    if kind not in FORMS:
        abort(404)
    form = FORMS[kind]()
    if isinstance(form, JobForm):
        form.offer(listing(work(), "materials"))
    return form


def _page(kind: str, form: FlaskForm, problems: list[Problem]) -> str:
    return render_template(
        "setup/things.html", kind=kind, title=TITLES[kind], form=form, problems=problems, rows=listing(work(), kind)
    )
