"""Look-alike codes from an older database, and how to rename them."""

from __future__ import annotations

from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import InputError
from shopfloor.core.input.signature import read_signer
from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.similar_codes import KINDS, LABELLED, alike, plainly, rename
from shopfloor.web.context import work
from shopfloor.web.forms.fields import TO_CHOOSE, CodeField, Complaint, HiddenField, PickField
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.i18n.language import say
from shopfloor.web.setup.blueprint import blueprint


class RenameForm(SignedForm):
    """A new code for something whose code looks like another."""

    kind = HiddenField()
    code = HiddenField()
    new_code = CodeField("New code", hint="One that cannot be confused with another. The old one stays on record.")
    person = PickField("Who changes it", first=TO_CHOOSE)


@blueprint.get("/codes")
def codes() -> str:
    """Every code that looks like another one, each with a form to rename it."""
    return _page(RenameForm())


@blueprint.post("/codes")
def rename_code() -> ResponseReturnValue:
    """Rename one of them."""
    form = RenameForm(request.form)
    try:
        new = rename(work(), form.raw(), read_signer(form.raw()))
    except InputError as error:
        return _page(form, form.refuse(error)), 400
    form.remember()
    told = phrase("Renamed: it is {code} now, and the old code is on record", code=new)
    flash(say(told))
    if form.kind.data in LABELLED:
        flash(say(phrase("Labels with the old code no longer work: print new ones")))
    return redirect(url_for("setup.codes"), 303)


def _page(form: RenameForm, complaints: Sequence[Complaint] = ()) -> str:
    groups, sent = alike(work()), (form.kind.data, form.code.data)
    if all(sent != (group.kind, code) for group in groups for code in group.codes):
        # Nothing of the kind is listed any more, so there is no field to link to.
        complaints = [Complaint("main", complaint.sentence()) for complaint in complaints]
    return render_template(
        "setup/codes.html", groups=groups, kinds=KINDS, form=form, sent=sent, complaints=complaints, plainly=plainly
    )
