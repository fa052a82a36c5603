"""Pages that change what is known of a thing: its form, filled with what is on record, and what it was before."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from flask import flash, redirect, render_template
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue_changes import Known, change, known
from shopfloor.web.context import work
from shopfloor.web.fields import TO_CHOOSE, Form, HiddenField, PickField
from shopfloor.web.language import locale, say
from shopfloor.web.numbers import marks
from shopfloor.web.signed import SignedForm


@cache
def change_form(form: type[Form]) -> type[SignedForm]:
    """The form that changes what another one adds: without the code, but signed."""
    fields = {
        "__doc__": f"{form.__doc__} Changed.",
        "code": None,
        "seen": HiddenField(),
        "person": PickField("Who changes it", first=TO_CHOOSE),
    }
    return type(f"{form.__name__}Change", (form, SignedForm), fields)


def change_page(form: SignedForm, kind: str, code: str, template: str, action: str, **shown: Any) -> str:
    """The form as it is filled on record, and what became of the thing."""
    return _drawn(form, _known(kind, code), template, action, {}, filled=True, **shown)


def save_change(
    form: SignedForm, kind: str, code: str, template: str, action: str, back: str, **shown: Any
) -> ResponseReturnValue:
    """Change it and go back to the list, or say what is wrong; nobody saves unasked over what was not shown."""
    try:
        change(work(), kind, code, form.raw(), form.person.data or None, marks(locale()).decimal)
    except InputError as error:
        found = _known(kind, code)
        complaints = form.refuse(error)
        page = _drawn(form, found, template, action, {"complaints": complaints}, filled=False, **shown)
        return page, 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say(phrase("Changed: {code}", code=code)))
    return redirect(back, 303)


def _known(kind: str, code: str) -> Known:
    return known(work(), kind, code, marks(locale()).decimal)


def _drawn(
    form: SignedForm, found: Known, template: str, action: str, more: Mapping[str, Any], *, filled: bool, **shown: Any
) -> str:
    if filled:
        for name, value in found.typed.items():
            form[name].data = value
        if "roles" in form:
            form["roles"].data = [role.value for role in found.roles]
    form["seen"].data = str(found.seen)
    labels = {name: field.label.text for name, field in form._fields.items()}
    return render_template(template, form=form, known=found, labels=labels, action=action, **more, **shown)
