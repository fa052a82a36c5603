"""New taps, and new kinds of tap."""

from __future__ import annotations

from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import InputError
from shopfloor.core.input.crib_entries import read_delivery
from shopfloor.core.input.plausibility import Doubtful
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.corrections import TAP_TYPES
from shopfloor.services.catalogue.tap_types import add_tap_type, tap_types
from shopfloor.services.ledger.movements import receive as book_delivery
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.forms import DeliveryForm, TapTypeForm
from shopfloor.web.forms.asked_back import SURE, Asked, ask_at
from shopfloor.web.forms.changes import Page, change_form
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.i18n.language import say
from shopfloor.web.tablet import memory


@blueprint.get("/receive")
def receive() -> str:
    """The form for a delivery; a link may name the tap type."""
    form = DeliveryForm()
    form.tap_type.data = request.args.get("tap_type", "")
    return _delivery_page(form)


@blueprint.post("/receive")
def book_received() -> ResponseReturnValue:
    """Book a delivery, then show the ledger of its tap type."""
    form = DeliveryForm(request.form)
    try:
        delivery, person = read_delivery(form.raw())
        codes = book_delivery(work(), delivery, person, request.form.get(SURE, ""))
    except Doubtful as doubtful:
        return _delivery_page(form, asked=ask_at(form, doubtful))
    except InputError as error:
        return _delivery_page(form, form.refuse(error)), 400
    form.remember()
    told = phrase("Received: {number} taps for the box", number=delivery.number)
    flash(say(phrase("Received: {codes}", codes=", ".join(codes)) if codes else told))
    return redirect(url_for("crib.ledger", code=delivery.tap_type), 303)


@blueprint.get("/types/new")
def new_type() -> str:
    """The form for a new kind of tap."""
    return _type_page(TapTypeForm())


@blueprint.post("/types/new")
def add_type() -> ResponseReturnValue:
    """Add a kind of tap, then go on to receive some."""
    form = TapTypeForm(request.form)
    try:
        code = add_tap_type(work(), form.raw(), memory.person())
    except InputError as error:
        return _type_page(form, form.refuse(error)), 400
    flash(say(phrase("Added: {code}", code=code)))
    return redirect(url_for("crib.receive", tap_type=code), 303)


@blueprint.get("/types")
def types() -> str:
    """Every tap type that the crib keeps, each with a link to change it."""
    return render_template("crib/types.html", types=tap_types(work()))


@blueprint.get("/types/<path:code>/change")
def tap_type(code: str) -> str:
    """The form that changes a tap type."""
    return _change_page(code).filled(change_form(TapTypeForm)())


@blueprint.post("/types/<path:code>/change")
def change_type(code: str) -> ResponseReturnValue:
    """Change a tap type: price, supplier, lead time and the rest."""
    return _change_page(code).save(change_form(TapTypeForm)(request.form))


def _change_page(code: str) -> Page:
    action = url_for("crib.change_type", code=code)
    return Page(TAP_TYPES, code, "crib/type.html", action, url_for("crib.types"))


def _delivery_page(form: DeliveryForm, complaints: Sequence[Complaint] = (), asked: Asked | None = None) -> str:
    return render_template("crib/receive.html", form=form, complaints=complaints, asked=asked)


def _type_page(form: TapTypeForm, complaints: Sequence[Complaint] = ()) -> str:
    return render_template("crib/new_type.html", form=form, complaints=complaints)
