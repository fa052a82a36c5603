"""Put a tap into a station: a listed one, a new one from the box, or one that is not on record yet."""

from __future__ import annotations

from collections.abc import Mapping

from shopfloor.core.errors import InputError
from shopfloor.core.input.tap_entry import UnlistedTap, read_marked_tap
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import same_thread
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.services.station.choices import job_row
from shopfloor.store import Tap, TapType


def fit(work: Work, tap: str, station: str, job: str, by: str) -> None:
    """Put a tap into the station for a job.

    Raises
    ------
    InputError    unknown codes, a tap that does not cut the job's thread
    Conflict      the tap's life is over
    """
    with work.read() as session:
        found, wanted = find_in(session, Tap, tap.strip()), job_row(session, job)
        if found is not None and not same_thread(found.tap_type.thread, wanted.thread):
            thread = found.tap_type.thread or "an unknown thread"
            raise InputError.of(
                "tap",
                phrase("{code} cuts {thread}", code=found.code, thread=thread),
                phrase("fit a tap for {thread}", thread=wanted.thread),
            )
    fit_tap(work, tap.strip(), station, by)


def fit_new(work: Work, tap_type: str, station: str, by: str) -> str:
    """Put a tap from the box into the station; returns the code to write on it."""
    return fit_new_tap(work, tap_type, station, by)


def fit_marked(work: Work, raw: Mapping[str, object]) -> str:
    """Put a tap from the box into a station under the code written on it; sending it again changes nothing.

    `raw` holds id, tap, tap_type, station and person. Returns the code.

    Raises
    ------
    InputError    every problem found: fields that are missing, unknown codes, a code that is taken
    Conflict      another movement has this id
    """
    marked = read_marked_tap(raw)
    return fit_new_tap(work, marked.tap_type, marked.station, marked.person, code=marked.code, movement=marked.id)


def fit_found(work: Work, found: UnlistedTap, station: str, job: str, by: str) -> str:
    """Receive a tap not on any list and put it into the station, once however often it is sent; returns its code.

    Raises
    ------
    InputError    unknown codes, a code that is taken, a tap type that does not cut the job's thread
    Conflict      another movement has this id
    """
    with work.read() as session:
        kind, wanted = find_in(session, TapType, found.tap_type), job_row(session, job)
        if kind is not None and not same_thread(kind.thread, wanted.thread):
            what = phrase("{code} cuts {value}", code=kind.code, value=kind.thread or phrase("an unknown thread"))
            raise InputError.of("tap_type", what, phrase("choose one for {thread}", thread=wanted.thread))
    return receive_tap(
        work, found.code, found.tap_type, by, holes_before=found.holes_before, station=station, receipt=found.id
    )
