"""The station page: the tap in the station and its risk, and the form that logs a batch."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.plausibility import Doubtful
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.quality.images import LARGEST_BYTES, LONGEST_SIDE_PX
from shopfloor.services.quality.photographs import MOST_OF_A_BREAK
from shopfloor.services.record.ids import new_id
from shopfloor.services.station import choices
from shopfloor.services.station import page as at
from shopfloor.services.station.set_up_card import heavy_warnings
from shopfloor.web.context import work
from shopfloor.web.forms.asked_back import SURE, Asked, ask_at
from shopfloor.web.forms.fields import Complaint, explain
from shopfloor.web.operator.choosing import notice
from shopfloor.web.operator.forms import BatchForm, FoundTapForm, TapCodeForm
from shopfloor.web.tablet import memory

_STANDS_FOR = {"person": "who", "station": "where", "job": "which", "material": "which", "tap": "tap-here"}
"""Elements that the summary links to for problems without a field."""

_LONGEST_NUMBER = 9
JUST_SAVED = timedelta(seconds=20)
"""A second touch on Save within this time is not taken for an attempt to save an empty form."""

_PHOTOGRAPH_LIMITS = {"most": MOST_OF_A_BREAK, "side": LONGEST_SIDE_PX, "largest": LARGEST_BYTES}
"""Limits that the tablet applies, so that nothing is refused later."""


def show(station: str) -> str | Response:
    """The station page, or the question that has to be answered first."""
    page = _page(station)
    if page.person is None:
        return redirect(url_for("operator.person", station=page.station.code), 303)
    if page.job is None:
        return redirect(url_for("operator.job", station=page.station.code), 303)
    memory.remember_station(page.station.code)
    return _drawn(page, _fresh_form(page))


def save(station: str) -> tuple[str, int] | Response:
    """Store the batch, then continue with the next batch or the next tap."""
    form = BatchForm(request.form)
    try:
        kept = at.log_batch(work(), _raw(form, station), _offered(form), request.form.get(SURE, ""))
    except InputError as error:
        if _is_late_touch(station, form):
            return redirect(url_for("operator.station", station=station, saved=request.args["saved"]), 303)
        return _refused(station, form, error)
    except Doubtful as doubtful:
        return _asked_back(station, form, doubtful)
    if kept.needs_tap and kept.rest != 0:
        memory.keep_batch(station, kept.batch_id, kept.rest)
    else:
        memory.end_batch(station)
    goal = "operator.next_tap" if kept.needs_tap else "operator.station"
    return redirect(url_for(goal, station=station, saved=kept.run_id), 303)


def _is_late_touch(station: str, form: BatchForm) -> bool:
    """Whether Save was touched again after the form had already been emptied: nothing was forgotten."""
    is_empty = not form.holes.data and form.cutting_slips.data in ("0", "") and form.tap_end.data == TapEnd.STILL_GOOD
    saved = notice(station, "saved") if is_empty else None
    return saved is not None and work().clock() - saved.entry.recorded_at < JUST_SAVED


def _page(station: str) -> at.AtStation:
    batch = memory.open_batch(station)
    return at.at_station(
        work(),
        station,
        memory.person(),
        memory.job_at(station),
        rest=batch.rest if batch else None,
        has_rest=batch is not None,
    )


def _fresh_form(page: at.AtStation) -> BatchForm:
    batch = memory.open_batch(page.station.code)
    run_id = new_id()
    form = BatchForm(
        id=str(run_id),
        batch_id=str(batch.batch_id if batch else run_id),
        holes=str(batch.rest) if batch and batch.rest else _asked_holes(),
        cutting_slips="0",
        rpm="" if page.rpm is None else str(page.rpm),
        depth_control=page.habit.depth_control.value if page.habit.depth_control else "",
        lubricant=page.habit.lubricant.value if page.habit.lubricant else "",
        tap_end=TapEnd.STILL_GOOD.value,
    )
    _bind(form, page)
    return form


def _asked_holes() -> str:
    """The planned number, if it was touched without a script."""
    asked = request.args.get("holes", "")
    return asked if asked.isdecimal() and len(asked) <= _LONGEST_NUMBER else ""


def _bind(form: BatchForm, page: at.AtStation) -> None:
    """Fill the form's hidden fields with the person, job and tap that the page shows."""
    form.person.data = page.person.code if page.person else ""
    form.job.data = page.job.code if page.job else ""
    form.tap.data = page.tap.code if page.tap else ""
    form.offered.data = str(page.portion.holes) if page.portion else ""


def _refused(station: str, form: BatchForm, error: InputError) -> tuple[str, int]:
    page = _page(station)
    complaints = list(explain(form, error, _STANDS_FOR, {"note": _note_field(form)}))
    if any(problem.field == "id" for problem in error.problems):
        form.id.data = form.batch_id.data = str(new_id())
        complaints = [_saved_before(complaints)]
    _bind(form, page)
    return _drawn(page, form, complaints), 409 if isinstance(error, Conflict) else 400


def _asked_back(station: str, form: BatchForm, doubtful: Doubtful) -> tuple[str, int]:
    page = _page(station)
    _bind(form, page)
    return _drawn(page, form, asked=ask_at(form, doubtful)), 200


def _saved_before(complaints: Sequence[Complaint]) -> Complaint:
    told = "This batch was saved already, with other figures. Correct it under 'Last entries'"
    return Complaint("last-entries", f"{told}, or save once more to add this as another batch")


def _note_field(form: BatchForm) -> str:
    """The field that holds the run's note: of a broken tap, what happened."""
    return "account" if form.tap_end.data == TapEnd.BROKEN.value and form.account.data else "note"


def _raw(form: BatchForm, station: str) -> dict[str, object]:
    raw = {name: value for name, value in form.data.items() if name not in ("account", "offered")}
    raw["note"] = form[_note_field(form)].data
    return raw | {"station": station, "person": memory.author(form.person.data or "")}


def _offered(form: BatchForm) -> int | None:
    text = form.offered.data or ""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _LONGEST_NUMBER else None


def _drawn(
    page: at.AtStation, form: BatchForm, complaints: Sequence[Complaint] = (), asked: Asked | None = None
) -> str:
    station, job = page.station.code, page.job
    taps = None
    if page.tap is None and job is not None and not complaints and asked is None:
        taps = choices.taps(work(), station, job.code, page.rpm, page.habit.lubricant, page.next_holes)
    return render_template(
        "operator/station.html",
        page=page,
        form=form,
        tap_form=TapCodeForm(),
        taps=taps,
        heavy=heavy_warnings(work(), page) if page.tap else (),
        found_form=FoundTapForm.of([kind.code for kind in taps.new]) if taps else None,
        batch=memory.open_batch(station),
        complaints=complaints,
        asked=asked,
        saved=notice(station, "saved"),
        undone=notice(station, "undone"),
        fitted=request.args.get("fitted", "")[:64],
        photograph_limits=_PHOTOGRAPH_LIMITS,
    )
