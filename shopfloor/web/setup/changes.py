"""Change what is known of people, stations, materials and jobs."""

from __future__ import annotations

from typing import Any

from flask import abort, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.services.catalogue import listing
from shopfloor.web.changing import change_form, change_page, save_change
from shopfloor.web.context import work
from shopfloor.web.fields import Form
from shopfloor.web.setup.blueprint import blueprint
from shopfloor.web.setup.forms import JobForm, MaterialForm, PersonChangeForm, StationForm
from shopfloor.web.setup.words import THINGS
from shopfloor.web.signed import SignedForm

_FORMS: dict[str, type[Form]] = {"stations": StationForm, "materials": MaterialForm, "jobs": JobForm}
_PEOPLE = "people"
_TEMPLATE = "setup/thing.html"


@blueprint.get("/people/<path:code>/change")
def person(code: str) -> str:
    """What is known of a person, to be changed by whoever decides who gets in."""
    action = url_for("setup.change_person", code=code)
    return change_page(change_form(PersonChangeForm)(), _PEOPLE, code, _TEMPLATE, action, **_shown(_PEOPLE))


@blueprint.post("/people/<path:code>/change")
def change_person(code: str) -> ResponseReturnValue:
    """Change a person's name or roles."""
    action, back = url_for("setup.change_person", code=code), url_for("setup.things", kind=_PEOPLE)
    form = change_form(PersonChangeForm)(request.form)
    return save_change(form, _PEOPLE, code, _TEMPLATE, action, back, **_shown(_PEOPLE))


@blueprint.get("/<kind>/<path:code>/change")
def thing(kind: str, code: str) -> str:
    """What is known of a thing, to be changed."""
    action = url_for("setup.change_thing", kind=kind, code=code)
    return change_page(_form(kind), kind, code, _TEMPLATE, action, **_shown(kind))


@blueprint.post("/<kind>/<path:code>/change")
def change_thing(kind: str, code: str) -> ResponseReturnValue:
    """Change it."""
    form = _form(kind, request.form)
    action, back = url_for("setup.change_thing", kind=kind, code=code), url_for("setup.things", kind=kind)
    return save_change(form, kind, code, _TEMPLATE, action, back, **_shown(kind))


def _form(kind: str, typed: Any = None) -> SignedForm:
    if kind not in _FORMS:
        abort(404)
    form = change_form(_FORMS[kind])(typed)
    if isinstance(form, JobForm):
        form.offer(listing(work(), "materials"))
    return form


def _shown(kind: str) -> dict[str, Any]:
    return {"kind": kind, "thing": THINGS[kind]}
