"""The lock screen: tap your name, give your PIN, and be back where you were."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from shopfloor.core.errors import InputError
from shopfloor.services.access.attempts import TooSoon
from shopfloor.services.access.credentials import Holder, has_supervisor, holders
from shopfloor.services.access.log_in import sign_in
from shopfloor.web.context import work
from shopfloor.web.forms.fields import explain
from shopfloor.web.security import current_person
from shopfloor.web.security.address import address
from shopfloor.web.tablet import memory
from shopfloor.web.who.forms import PasswordForm, PinForm, way_on

# Under the operator's pages, so that the service worker keeps the lock screen for offline use.
blueprint = Blueprint("who", __name__, url_prefix="/operator/who")


@blueprint.get("")
def tiles() -> ResponseReturnValue:
    """Everybody's name on an enrolled tablet; elsewhere, how to enrol it."""
    if not current_person.rules().is_in_use:
        return redirect(way_on(), 303)
    if current_person.tablet() is None:
        return render_template("who/not_enrolled.html", next=way_on(), has_supervisor=has_supervisor(work()))
    return render_template("who/tiles.html", next=way_on(), people=holders(work()), station=memory.station())


@blueprint.get("/pin")
def pin() -> ResponseReturnValue:
    """The PIN of one person."""
    found = _person()
    if found is None:
        return redirect(url_for("who.tiles", next=way_on()), 303)
    return _pin_page(found, PinForm())


@blueprint.post("/pin")
def give_pin() -> ResponseReturnValue:
    """Log the person in at this tablet."""
    here, found, form = current_person.tablet(), _person(), PinForm(request.form)
    if here is None or found is None:
        return redirect(url_for("who.tiles", next=way_on()), 303)
    try:
        token = sign_in(work(), found.code, form.secret.data or "", here.id)
    except InputError as error:
        return _pin_page(found, form, error), _status(error)
    return current_person.let_in(redirect(way_on(), 303), token)


@blueprint.get("/password")
def password() -> str:
    """A log-in on any device."""
    return _password_page(PasswordForm())


@blueprint.post("/password")
def give_password() -> ResponseReturnValue:
    """Log in whoever has a password."""
    here, form = current_person.tablet(), PasswordForm(request.form)
    try:
        token = sign_in(work(), form.person.data or "", form.secret.data or "", here.id if here else None, address())
    except InputError as error:
        return _password_page(form, error), _status(error)
    return current_person.let_in(redirect(way_on(), 303), token)


@blueprint.post("/lock")
def lock() -> Response:
    """Log out and show the names."""
    current_person.sign_out()
    return redirect(url_for("who.tiles", next=way_on()), 303)


def _person() -> Holder | None:
    if current_person.tablet() is None:
        return None
    code = request.values.get("person", "")
    return next((one for one in holders(work()) if one.code == code), None)


def _pin_page(person: Holder, form: PinForm, error: InputError | None = None) -> str:
    if person.has_password:
        form.secret.label.text = "Password"
    complaints = explain(form, error) if error else []
    return render_template("who/pin.html", person=person, form=form, next=way_on(), complaints=complaints)


def _password_page(form: PasswordForm, error: InputError | None = None) -> str:
    complaints = explain(form, error) if error else []
    return render_template("who/password.html", form=form, next=way_on(), complaints=complaints)


def _status(error: InputError) -> int:
    return 429 if isinstance(error, TooSoon) else 400
