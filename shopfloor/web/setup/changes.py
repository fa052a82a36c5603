"""Change people, stations, materials and jobs."""

from __future__ import annotations

from typing import Any

from flask import abort, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.services.catalogue.things import listing
from shopfloor.web.context import work
from shopfloor.web.forms.changes import Page, change_form
from shopfloor.web.forms.fields import Form
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.setup.blueprint import blueprint
from shopfloor.web.setup.forms import JobForm, MaterialForm, PersonChangeForm, StationForm
from shopfloor.web.setup.words import THINGS

_FORMS: dict[str, type[Form]] = {"stations": StationForm, "materials": MaterialForm, "jobs": JobForm}
_PEOPLE = "people"


@blueprint.get("/people/<path:code>/change")
def person(code: str) -> str:
    """The form that changes a person, for those who decide who gets in."""
    return _page(_PEOPLE, code, url_for("setup.change_person", code=code)).filled(change_form(PersonChangeForm)())


@blueprint.post("/people/<path:code>/change")
def change_person(code: str) -> ResponseReturnValue:
    """Change a person's name or roles."""
    return _page(_PEOPLE, code, url_for("setup.change_person", code=code)).save(
        change_form(PersonChangeForm)(request.form)
    )


@blueprint.get("/<kind>/<path:code>/change")
def thing(kind: str, code: str) -> str:
    """The form that changes a thing."""
    return _page(kind, code, url_for("setup.change_thing", kind=kind, code=code)).filled(_form(kind))


@blueprint.post("/<kind>/<path:code>/change")
def change_thing(kind: str, code: str) -> ResponseReturnValue:
    """Change it."""
    return _page(kind, code, url_for("setup.change_thing", kind=kind, code=code)).save(_form(kind, request.form))


def _form(kind: str, typed: Any = None) -> SignedForm:
    form = change_form(_FORMS[kind])(typed)
    if isinstance(form, JobForm):
        form.offer(listing(work(), "materials"))
    return form


def _page(kind: str, code: str, action: str) -> Page:
    if kind != _PEOPLE and kind not in _FORMS:
        abort(404)
    back = url_for("setup.things", kind=kind)
    return Page(kind, code, "setup/thing.html", action, back, {"thing": THINGS[kind]})
