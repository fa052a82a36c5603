"""How a page answers a form that corrects, cancels or reports: refuse it as typed, or do it and redirect."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from flask import flash, redirect
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.signature import SignedForm
from shopfloor.web.i18n.language import say


def revise(
    form: SignedForm,
    do: Callable[[], None],
    page: Callable[[Sequence[Complaint]], str],
    *,
    done: str,
    onward: str,
) -> ResponseReturnValue:
    """Do what the form asks.

    Parameters
    ----------
    do        reads the form and stores what it says; raises InputError
    page      the page with its complaints and the form as it was filled in
    done      the notice on the next page
    onward    address of the next page

    Returns
    -------
    303 to `onward`; 409 where the entry is no longer as it was read, else 400, with the page
    """
    try:
        do()
    except InputError as error:
        return page(form.refuse(error)), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say(done))
    return redirect(onward, 303)
