"""The access pages: whether PINs are in use, who has which, which tablets are enrolled, log-in attempts."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response

from shopfloor.core.errors import InputError
from shopfloor.core.input.access_entries import YES
from shopfloor.core.phrases import phrase
from shopfloor.services.access import attempts, credentials, tablets
from shopfloor.services.access.log_in import move_to, sign_in
from shopfloor.services.access.rules import change_access, must_be_in_reach
from shopfloor.web.access.forms import RulesForm, SecretForm, TabletForm
from shopfloor.web.context import work
from shopfloor.web.forms.fields import Complaint, explain, raw
from shopfloor.web.i18n.language import say
from shopfloor.web.security import current_person
from shopfloor.web.security.address import address

blueprint = Blueprint("access", __name__, url_prefix="/setup/access")


@blueprint.get("/")
def overview() -> str:
    """Rules, people, tablets and attempts; while there is no supervisor, how to make the first one."""
    return _page()


@blueprint.post("/first")
def first() -> ResponseReturnValue:
    """Make the first supervisor, who is logged in at once."""
    form = SecretForm.of_first(credentials.holders(work()), request.form)
    try:
        code = credentials.first_supervisor(work(), raw(form))
    except InputError as error:
        return _page(explain(form, error), secret_form=form), 400
    flash(say("You are the supervisor now: enrol a tablet, give people their PINs, then put PINs into use."))
    here = current_person.tablet()
    token = sign_in(work(), code, form.secret.data or "", here.id if here else None, address())
    return current_person.let_in(_back(), token)


@blueprint.post("/rules")
def change_rules() -> ResponseReturnValue:
    """Turn PINs on or off, and set how long a log-in lasts."""
    form = RulesForm(request.form)
    try:
        if form.is_in_use.data == YES:
            must_be_in_reach(work(), has_supervisor=credentials.has_supervisor(work()))
        found = current_person.who()
        rules = change_access(work(), raw(form), found.code if found else None)
    except InputError as error:
        is_drawn = credentials.has_supervisor(work())
        told = explain(form, error) if is_drawn else [Complaint("main", one.sentence()) for one in error.problems]
        return _page(told, rules_form=form), 400
    flash(say("PINs are in use") if rules.is_in_use else say("PINs are not in use"))
    return _back()


@blueprint.post("/secret")
def give_secret() -> ResponseReturnValue:
    """Give a person a new PIN or password."""
    form = SecretForm.of(credentials.holders(work()), request.form)
    try:
        name = credentials.give_secret(work(), raw(form))
    except InputError as error:
        return _page(explain(form, error), secret_form=form), 400
    flash(say(phrase("{name} logs in with it from now on", name=name)))
    return _back()


@blueprint.post("/release")
def release() -> Response:
    """Let a person try again at once."""
    attempts.release(work(), request.form.get("person", ""))
    flash(say("May try again at once"))
    return _back()


@blueprint.post("/tablets")
def enrol() -> ResponseReturnValue:
    """Enrol the requesting tablet."""
    found, form = current_person.who(), TabletForm(request.form)
    if found is None:
        return redirect(url_for("who.password", next=url_for("access.overview")), 303)
    try:
        number, token = tablets.enrol(work(), form.name.data or "", found.code)
    except InputError as error:
        return _page(explain(form, error), tablet_form=form), 400
    move_to(work(), found.sign_in, number)
    flash(say("This tablet is enrolled"))
    return current_person.enrolled(_back(), token)


@blueprint.post("/tablets/<int:number>/release")
def release_tablet(number: int) -> Response:
    """Let everybody at a tablet try again at once."""
    attempts.release_tablet(work(), number)
    flash(say("Everybody may try again there at once"))
    return _back()


@blueprint.post("/tablets/<int:number>/revoke")
def revoke(number: int) -> Response:
    """Revoke a tablet's access."""
    tablets.revoke(work(), number)
    flash(say("The tablet no longer has access; what waits on it stays there"))
    return _back()


def _back() -> Response:
    return redirect(url_for("access.overview"), 303)


def _page(
    complaints: Sequence[Complaint] = (),
    rules_form: RulesForm | None = None,
    secret_form: SecretForm | None = None,
    tablet_form: TabletForm | None = None,
) -> str:
    people, has_supervisor = credentials.holders(work()), credentials.has_supervisor(work())
    return render_template(
        "access/overview.html",
        has_supervisor=has_supervisor,
        this_tablet=current_person.tablet(),
        people=people,
        tablets=tablets.tablets(work()),
        attempts=attempts.last_attempts(work()),
        rules_form=rules_form or RulesForm.of(current_person.rules()),
        secret_form=secret_form or (SecretForm.of if has_supervisor else SecretForm.of_first)(people),
        tablet_form=tablet_form or TabletForm(),
        complaints=complaints,
    )
