"""The story of one break: what is known, what was told before, and the forms that put it right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import UUID

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.vocabulary import Cause
from shopfloor.services.quality import incidents
from shopfloor.services.quality.incidents import Story, story_of
from shopfloor.services.quality.photographs import photographs_of
from shopfloor.web.context import work
from shopfloor.web.forms.fields import Complaint
from shopfloor.web.forms.signature import ReasonedForm
from shopfloor.web.i18n.language import say
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.forms import SeenForm, StoryForm, photograph_form, read_seen, read_story


@blueprint.get("/incidents/<uuid:run>")
def story(run: UUID) -> str:
    """What is known of a break, and what was told of it before."""
    return story_page(story_of(work(), run))


@blueprint.post("/incidents/<uuid:run>")
def correct_story(run: UUID) -> ResponseReturnValue:
    """Tell the break anew; what was told before stays readable."""
    told, form = story_of(work(), run), StoryForm(request.form)
    try:
        change, signed = read_story(form.raw())
        incidents.correct_story(work(), run, change, signed.reason, signed.person)
    except InputError as error:
        return story_page(told, form.refuse(error), form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Incident corrected"))
    return redirect(url_for("quality.story", run=told.run), 303)


@blueprint.post("/incidents/<uuid:run>/cancel")
def cancel_story(run: UUID) -> ResponseReturnValue:
    """Take back what was told of a break."""
    told, form = story_of(work(), run), SeenForm(request.form, prefix="cancel-")
    try:
        seen, signed = read_seen(form.raw())
        incidents.cancel_story(work(), run, seen, signed.reason, signed.person)
    except InputError as error:
        return story_page(told, form.refuse(error), cancel_form=form), 409 if isinstance(error, Conflict) else 400
    form.remember()
    flash(say("Incident cancelled: the cause of this break is not known"))
    return redirect(url_for("quality.story", run=told.run), 303)


def story_page(
    told: Story,
    complaints: Sequence[Complaint] = (),
    form: StoryForm | None = None,
    cancel_form: SeenForm | None = None,
    photograph_forms: Mapping[UUID, ReasonedForm] | None = None,
) -> str:
    """The page of a break, with the forms as they were filled in where one was refused."""
    shown = photographs_of(work(), told.run)
    fresh = {one.id: photograph_form(one.id) for one in shown if one.change is None}
    return render_template(
        "quality/story.html",
        story=told,
        form=form or _filled(told),
        cancel_form=cancel_form or _cancel_form(told),
        photographs=shown,
        photograph_forms=fresh | dict(photograph_forms or {}),
        complaints=complaints,
    )


def _filled(told: Story) -> StoryForm:
    present = told.present
    return StoryForm(
        story=str(present.id) if present else "",
        cause=(present.cause if present else Cause.NOT_KNOWN).value,
        part_fate=told.fate.value if told.fate else "",
        account=(present.account if present else None) or "",
    )


def _cancel_form(told: Story) -> SeenForm | None:
    return SeenForm(prefix="cancel-", story=str(told.present.id)) if told.present else None
