"""Choose the station, the person, the job and the tap: each a page of large tiles."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.input.tap_entry import read_unlisted_tap
from shopfloor.services.catalogue.labels import tap_code
from shopfloor.services.station import choices, fitting
from shopfloor.services.station import page as at
from shopfloor.services.station.log_entries import SavedNotice, notice_of
from shopfloor.web.context import work
from shopfloor.web.forms.fields import explain, raw
from shopfloor.web.operator.forms import FoundTapForm, TapCodeForm
from shopfloor.web.security import current_person
from shopfloor.web.tablet import memory

_LARGE_JOBS = 8
"""Jobs shown at first; the others fold out."""


def start() -> str:
    """The stations, this tablet's own first."""
    own = memory.station()
    known = sorted(choices.stations(work()), key=lambda station: station.code != own)
    return render_template("operator/start.html", stations=known, own=own, has_log=choices.has_log(work()))


def person(station: str) -> str | Response:
    """Who is at the station?"""
    if current_person.rules().is_in_use:
        return redirect(url_for("who.tiles", next=url_for("operator.station", station=station)), 303)
    known = choices.people(work(), station)
    return render_template(
        "operator/person.html",
        station=station,
        people=known,
        chosen=memory.person(),
        has_log=choices.has_log(work()),
    )


def choose_person(station: str) -> Response:
    """Remember who is at the tablet; if PINs are in use, ask for this person's."""
    chosen = _chosen("person", [known.code for known in choices.people(work(), station)])
    if current_person.rules().is_in_use:
        way_on = url_for("operator.station", station=station)
        return redirect(url_for("who.pin", person=chosen, next=way_on), 303)
    memory.remember_person(chosen)
    return redirect(url_for("operator.station", station=station), 303)


def job(station: str) -> str:
    """Which job is on the station?"""
    known = choices.jobs(work(), station)
    return render_template(
        "operator/job.html",
        station=station,
        large=known[:_LARGE_JOBS],
        rest=sorted(known[_LARGE_JOBS:], key=lambda job: job.code),
        chosen=memory.job_at(station),
        has_log=choices.has_log(work()),
    )


def choose_job(station: str) -> Response:
    """Remember the job at this station."""
    chosen = _chosen("job", [known.code for known in choices.jobs(work(), station)])
    memory.remember_job(station, chosen)
    return redirect(url_for("operator.station", station=station), 303)


def next_tap(station: str) -> str | Response:
    """Which tap goes in?"""
    return _ask_for_tap(station, TapCodeForm())


def choose_tap(station: str) -> tuple[str | Response, int] | Response:
    """Fit the chosen tap, or one from the box if a type was chosen."""
    by, job = memory.person(), memory.job_at(station)
    if by is None or job is None:
        return redirect(url_for("operator.station", station=station), 303)
    form = TapCodeForm(request.form)
    fitted = None
    try:
        if request.form.get("tap_type"):
            fitted = fitting.fit_new(work(), request.form["tap_type"], station, by)
        elif not (form.tap.data or "").strip():
            raise InputError.of("tap", "no tap is chosen", "touch a tap, or type its code")
        else:
            fitting.fit(work(), tap_code(work(), (form.tap.data or "").strip()), station, job, by)
    except InputError as error:
        return _ask_for_tap(station, form, error), _status(error)
    return redirect(url_for("operator.station", station=station, fitted=fitted, saved=_saved()), 303)


def fit_found_tap(station: str) -> tuple[str | Response, int] | Response:
    """Receive and fit a tap that is not in the list."""
    by, job = memory.person(), memory.job_at(station)
    if by is None or job is None:
        return redirect(url_for("operator.station", station=station), 303)
    try:
        found = read_unlisted_tap(raw(FoundTapForm.of((), request.form)))
        code = fitting.fit_found(work(), found, station, job, by)
    except InputError as error:
        return _ask_for_tap(station, TapCodeForm(), error, request.form), _status(error)
    unwritten = None if found.code else code
    return redirect(url_for("operator.station", station=station, fitted=unwritten, saved=_saved()), 303)


def end_batch(station: str) -> Response:
    """No more holes now."""
    memory.end_batch(station)
    return redirect(url_for("operator.station", station=station, saved=_saved()), 303)


def notice(station: str, name: str) -> SavedNotice | None:
    """The entry that the address names under `name`, if it belongs to this station."""
    try:
        found = notice_of(work(), UUID(request.args[name]))
    except (KeyError, ValueError, NotFound):
        return None
    return found if found.entry.station == station else None


def _ask_for_tap(
    station: str, form: TapCodeForm, error: InputError | None = None, found: Mapping[str, str] | None = None
) -> str | Response:
    """The page of taps; `found` is the form for a tap that is not in the list, if the error is about that."""
    by, job, batch = memory.person(), memory.job_at(station), memory.open_batch(station)
    page = at.at_station(work(), station, by, job, rest=batch.rest if batch else None, has_rest=batch is not None)
    if page.person is None or page.job is None:
        return redirect(url_for("operator.station", station=station), 303)
    taps = choices.taps(work(), station, page.job.code, page.rpm, page.habit.lubricant, page.next_holes)
    found_form = FoundTapForm.of([kind.code for kind in taps.new], found)
    complaints = explain(form if found is None else found_form, error) if error else []
    return render_template(
        "operator/next_tap.html",
        page=page,
        taps=taps,
        form=form,
        found_form=found_form,
        batch=batch,
        complaints=complaints,
        saved=notice(station, "saved"),
    )


def _status(error: InputError) -> int:
    return 409 if isinstance(error, Conflict) else 400


def _chosen(name: str, known: list[str]) -> str:
    code = request.form.get(name, "")
    if code not in known:
        raise InputError.of(name, "it is not on the list" if code else "none is chosen", "choose one that is listed")
    return code


def _saved() -> str | None:
    """The saved entry shown on the next page."""
    return request.args.get("saved")
