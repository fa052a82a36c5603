"""What to order, and the ledger of each tap type."""

from __future__ import annotations

from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.floor.stock import COVER, REVIEW_DAYS
from shopfloor.core.input.crib_entries import read_box
from shopfloor.core.input.plausibility import Doubtful
from shopfloor.core.phrases import phrase
from shopfloor.services.crib.orders import PAST_DAYS, Stand, order_list
from shopfloor.services.crib.orders import ledger as find_ledger
from shopfloor.services.ledger.movements import book_box
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.forms import BoxForm
from shopfloor.web.forms.asked_back import SURE, Asked, ask_at
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.i18n.language import say

LINES_AT_ONCE = 100


@blueprint.get("/orders")
def orders() -> str:
    """Which tap types to order, how many, and why."""
    return render_template(
        "crib/orders.html",
        orders=order_list(work()),
        stand=Stand,
        cover=COVER,
        review_days=REVIEW_DAYS,
        past_days=PAST_DAYS,
    )


@blueprint.get("/stock/<path:code>")
def ledger(code: str) -> str:
    """The movements of one tap type with their running balance."""
    return _ledger_page(code, BoxForm())


@blueprint.post("/stock/<path:code>")
def book(code: str) -> ResponseReturnValue:
    """Book a count, or unmarked taps that leave the crib."""
    form, sure = BoxForm(request.form), request.form.get(SURE, "")
    try:
        entry = read_box(form.raw())
        book_box(work(), entry.id, code, entry.movement, entry.number, entry.person, entry.note, sure)
    except Doubtful as doubtful:
        return _ledger_page(code, form, asked=ask_at(form, doubtful))
    except InputError as error:
        return _ledger_page(code, form, form.refuse(error)), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say(phrase("Booked: {what}, {number}", what=entry.movement.label.lower(), number=entry.number)))
    return redirect(url_for("crib.ledger", code=code), 303)


def _ledger_page(code: str, form: BoxForm, complaints: Sequence[Complaint] = (), asked: Asked | None = None) -> str:
    found = find_ledger(work(), code)
    lines = found.lines if request.args.get("all") else found.lines[:LINES_AT_ONCE]
    return render_template("crib/ledger.html", ledger=found, lines=lines, form=form, complaints=complaints, asked=asked)
