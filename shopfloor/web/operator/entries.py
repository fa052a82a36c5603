"""The last entries of a station: undo them in one touch, later correct or cancel them with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import Any
from uuid import UUID

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.input.plausibility import Doubtful
from shopfloor.services.record.ids import new_id
from shopfloor.services.runs.runs import undo_run
from shopfloor.services.station import choices, log_entries
from shopfloor.web.context import work
from shopfloor.web.forms.asked_back import SURE, Asked, ask_at
from shopfloor.web.forms.fields import Complaint, explain
from shopfloor.web.operator.forms import CancelForm, CorrectionForm
from shopfloor.web.security.roles import own_undo
from shopfloor.web.tablet import memory


def show(station: str) -> str:
    """Entries of the last days, old versions included."""
    return render_template(
        "operator/entries.html",
        station=station,
        entries=log_entries.last_entries(work(), station),
        days=log_entries.DAYS_SHOWN,
    )


def undo(station: str, run: UUID) -> Response:
    """Undo a fresh entry, and forget the rest of its batch."""
    entry = _entry(station, run)
    undo_run(work(), entry.id, by=own_undo())
    going_on = memory.open_batch(station)
    if going_on is not None and going_on.batch_id == entry.batch_id:
        memory.end_batch(station)
    return redirect(url_for("operator.station", station=station, undone=entry.id), 303)


def ask_correction(station: str, run: UUID) -> str:
    """The entry's current values, to be corrected."""
    entry = _entry(station, run)
    return _drawn(station, entry, _filled(entry), _cancel_form())


def save_correction(station: str, run: UUID) -> tuple[str, int] | Response:
    """Store the corrected entry; the old one stays readable."""
    entry = _entry(station, run)
    form = CorrectionForm(request.form)
    try:
        log_entries.correct(work(), run, form.data | {"station": station}, _by(entry), request.form.get(SURE, ""))
    except Doubtful as doubtful:
        return _drawn(station, entry, form, _cancel_form(), asked=ask_at(form, doubtful)), 200
    except InputError as error:
        return _drawn(station, entry, form, _cancel_form(), explain(form, error)), _status(error)
    return redirect(url_for("operator.entries", station=station), 303)


def cancel_entry(station: str, run: UUID) -> tuple[str, int] | Response:
    """Cancel the entry."""
    entry = _entry(station, run)
    form = _cancel_form(request.form)
    try:
        log_entries.cancel(work(), run, form.data, _by(entry))
    except InputError as error:
        return _drawn(station, entry, _filled(entry), form, explain(form, error)), _status(error)
    return redirect(url_for("operator.entries", station=station), 303)


def _entry(station: str, run: UUID) -> log_entries.LogEntry:
    entry = log_entries.entry_of(work(), run)
    if entry.station != station:
        raise NotFound(f"no run {run} at {station}")
    return entry


def _by(entry: log_entries.LogEntry) -> str:
    """Who corrects: the person at the tablet, else whoever made the entry."""
    return memory.person() or entry.person_code or ""


def _status(error: InputError) -> int:
    return 409 if isinstance(error, Conflict) else 400


def _filled(entry: log_entries.LogEntry) -> CorrectionForm:
    return CorrectionForm(
        id=str(new_id()),
        person=entry.person_code,
        job=entry.job,
        tap=entry.tap,
        holes=str(entry.holes),
        cutting_slips="" if entry.cutting_slips is None else str(entry.cutting_slips),
        rpm=str(entry.rpm),
        tap_end=entry.tap_end.value,
        broke_at_hole="" if entry.broke_at_hole is None else str(entry.broke_at_hole),
        hole_not_known=entry.tap_end.value == "broken" and entry.broke_at_hole is None,
        part_fate=_value(entry.part_fate),
        cause=_value(entry.cause),
        depth_control=_value(entry.depth_control),
        lubricant=_value(entry.lubricant),
        note=entry.note or "",
    )


def _cancel_form(typed: Any = None) -> CancelForm:
    # Both forms of the page have a reason; ids must differ.
    return CancelForm(typed, prefix="cancel-")


def _value(word: Enum | None) -> str:
    return "" if word is None else str(word.value)


def _drawn(
    station: str,
    entry: log_entries.LogEntry,
    form: CorrectionForm,
    cancel_form: CancelForm,
    complaints: Sequence[Complaint] = (),
    asked: Asked | None = None,
) -> str:
    names = {person.code: person.name for person in choices.people(work(), station)}
    form.person.offer(names.items())
    jobs = {job.code: f"{job.code} {job.part}" for job in choices.jobs(work(), station)}
    form.job.offer((({entry.job: entry.job} if entry.job else {}) | jobs).items())
    return render_template(
        "operator/correct.html",
        station=station,
        entry=entry,
        form=form,
        cancel_form=cancel_form,
        complaints=complaints,
        asked=asked,
        by=names.get(_by(entry)),
    )
