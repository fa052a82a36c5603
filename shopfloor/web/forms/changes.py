"""Pages that change catalogue entries: the form filled with what is on record, and the past changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from flask import flash, redirect, render_template
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.signature import read_signer
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.corrections import Known, change, known
from shopfloor.web.context import work
from shopfloor.web.forms.fields import TO_CHOOSE, Complaint, Form, HiddenField, PickField
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.i18n.language import locale, say
from shopfloor.web.i18n.numbers import marks


@dataclass(frozen=True)
class Page:
    """The page of one entry: its template, where its form is sent, and the page shown after saving."""

    kind: str
    code: str
    template: str
    action: str
    back: str
    shown: Mapping[str, Any] = field(default_factory=dict)

    def filled(self, form: SignedForm) -> str:
        """The page with the form filled from the record, and the past changes."""
        found = self._known()
        for name, value in found.typed.items():
            form[name].data = value
        if "roles" in form:
            form["roles"].data = [role.value for role in found.roles]
        return self._drawn(form, found)

    def save(self, form: SignedForm) -> ResponseReturnValue:
        """Save and go back, or say what is wrong; nobody overwrites a change they were not shown."""
        try:
            change(work(), self.kind, self.code, form.raw(), read_signer(form.raw()), marks(locale()).decimal)
        except InputError as error:
            page = self._drawn(form, self._known(), form.refuse(error))
            return page, 409 if isinstance(error, Conflict) else 400
        form.remember()
        flash(say(phrase("Changed: {code}", code=self.code)))
        return redirect(self.back, 303)

    def _known(self) -> Known:
        return known(work(), self.kind, self.code, marks(locale()).decimal)

    def _drawn(self, form: SignedForm, found: Known, complaints: Sequence[Complaint] = ()) -> str:
        form["seen"].data = str(found.seen)
        labels = {name: each.label.text for name, each in form._fields.items()}
        return render_template(
            self.template,
            form=form,
            known=found,
            labels=labels,
            action=self.action,
            complaints=complaints,
            **self.shown,
        )


@cache
def change_form(form: type[Form]) -> type[SignedForm]:
    """The change form for an add form: without the code, but signed."""
    fields = {
        "__doc__": f"{form.__doc__} Changed.",
        "code": None,
        "seen": HiddenField(),
        "person": PickField("Who changes it", first=TO_CHOOSE),
    }
    return type(f"{form.__name__}Change", (form, SignedForm), fields)
