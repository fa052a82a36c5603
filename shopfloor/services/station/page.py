"""What an operator sees at a station, and what happens when a batch is saved there."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.floor.slip_cusum import SlipWatch
from shopfloor.core.input.plausibility import Usual
from shopfloor.core.input.run_entry import AT_THE_STATION, EntryLimits
from shopfloor.core.input.station_entry import read_station_run
from shopfloor.core.threads import same_thread
from shopfloor.core.vocabulary import TapEnd, TapState
from shopfloor.services.advice.outlook import Outlook, OutlookBook
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.services.runs.batch_size import Portion, Why, as_made, rest_of_batch
from shopfloor.services.runs.runs import log_run
from shopfloor.services.runs.usual_sizes import Habit, confirmed_in, habit_of
from shopfloor.services.station.choices import (
    JobChoice,
    PersonChoice,
    StationChoice,
    job_choice,
    known_holes,
    station_choice,
    station_row,
)
from shopfloor.services.station.fresh_taps import FreshTap, fresh_taps
from shopfloor.services.station.next_batch import Coming, holes_foretold, last_runs, next_rpm, portion_of
from shopfloor.services.station.slip_watch import slip_watch
from shopfloor.store import Job, Person, Station, Tap, TapLife, TapType


@dataclass(frozen=True)
class TapHere:
    """The tap in the station. `holes` None: it came used, and nobody knows with how many holes."""

    code: str
    tap_type: str
    thread: str | None
    holes: int | None
    logged_holes: int
    outlook: Outlook
    fresh: tuple[FreshTap, ...] = ()
    """Taps that could replace it, those already here first."""
    slips: SlipWatch | None = None
    """Whether its cutting slips are rising; None if too little is known."""


@dataclass(frozen=True)
class OtherTap:
    """A tap in the station that does not cut the job's thread."""

    code: str
    thread: str


@dataclass(frozen=True)
class AtStation:
    """The station page: who works where on what, with which tap, and what is suggested."""

    station: StationChoice
    person: PersonChoice | None
    job: JobChoice | None
    tap: TapHere | None
    other_tap: OtherTap | None
    portion: Portion | None
    rpm: int | None
    """The speed as last used, or as planned; None if not stated."""
    habit: Habit
    """What typed numbers are compared with, how the job was last worked on, and where an offline tablet continues."""

    @property
    def next_holes(self) -> int:
        """The holes for which a risk is given."""
        return self.tap.outlook.next_holes if self.tap else holes_foretold(self.portion, ())


@dataclass(frozen=True)
class Kept:
    """A saved batch: its run, what is left of the batch (None: unknown), and whether another tap is needed."""

    run_id: uuid.UUID
    batch_id: uuid.UUID
    rest: int | None
    needs_tap: bool


def at_station(
    work: Work, station: str, person: str | None, job: str | None, *, rest: int | None = None, has_rest: bool = False
) -> AtStation:
    """What the station page shows; person and job are None if not known (any more).

    If a batch continues after a change of tap (`has_rest`), its `rest` is suggested; nothing if that is unknown.

    Raises
    ------
    NotFound    no such station
    """
    with work.read() as session:
        place = station_row(session, station)
        who = find_in(session, Person, person) if person else None
        what = _open_job(session, job)
        where = station_choice(place)
        habit = habit_of(session, place, what) if what else Habit(Usual())
        portion = portion_of(habit, work.settings.largest_batch)
        if has_rest:
            portion = Portion(rest, Why.REST_OF_BATCH) if rest else None
        rpm = next_rpm(place, what, habit)
        coming = Coming(what, portion, rpm, habit.lubricant) if what else None
        tap, other = _taps_here(work, session, place, coming) if coming else (None, None)
        return AtStation(
            station=where,
            person=PersonChoice(who.code, who.name) if who else None,
            job=job_choice(what) if what else None,
            tap=tap,
            other_tap=other,
            portion=portion,
            rpm=rpm,
            habit=habit,
        )


def log_batch(work: Work, raw: Mapping[str, object], offered: int | None, sure: str = "") -> Kept:
    """Save what an operator entered at a station. `raw` as read_run takes it, and 'hole_not_known'.

    `sure` says which odd numbers were confirmed, in the form of `ask_back`.

    Raises
    ------
    InputError, Conflict    as read_run and log_run raise them; nothing is stored then
    Doubtful                a number has to be confirmed first; nothing is stored then
    """
    entered = confirmed_in(work, read_station_run(raw, limits_at_station(work)), offered, sure)
    rest, needs_tap = rest_of_batch(entered, offered), entered.tap_end is not TapEnd.STILL_GOOD
    log_run(work, as_made(entered))
    return Kept(entered.id, entered.batch_id or entered.id, rest, needs_tap)


def limits_at_station(work: Work) -> EntryLimits:
    """What a station accepts now; the server's clock counts."""
    return EntryLimits(
        work.clock(), work.settings.zone, work.settings.largest_batch, AT_THE_STATION, device_sets_time=False
    )


def _open_job(session: Session, code: str | None) -> Job | None:
    job = find_in(session, Job, code) if code else None
    return job if job is not None and job.is_open and job.thread is not None else None


def _taps_here(work: Work, session: Session, place: Station, coming: Coming) -> tuple[TapHere | None, OtherTap | None]:
    """The tap fitted here last that cuts the job's thread; if there is none, the one that does not."""
    job = coming.job
    query = (
        select(Tap, TapLife)
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(TapLife.is_present, TapLife.station_id == place.id)
        .where(TapLife.state.in_((TapState.UNUSED, TapState.IN_SERVICE)))
        .order_by(TapLife.placed_at.desc(), Tap.id.desc())
    )
    here = [(tap, life) for tap, life in session.execute(query).unique()]
    fitting = next(((tap, life) for tap, life in here if same_thread(tap.tap_type.thread, job.thread)), None)
    if fitting is None:
        other = next((OtherTap(tap.code, tap.tap_type.thread or tap.tap_type.code) for tap, _ in here), None)
        return None, other
    tap, life = fitting
    runs = last_runs(session, tap.id, tap.tap_type_id, place.id) if coming.portion is None else ()
    next_holes = holes_foretold(coming.portion, runs)
    book = OutlookBook(work, session, [tap.tap_type], job, coming.rpm, coming.lubricant, next_holes)
    holes = known_holes(life)
    outlook = book.outlook(tap.tap_type, holes, life)
    slips = slip_watch(session, tap, life, job.material_id, coming.rpm)
    fresh = tuple(one for one in fresh_taps(session, _kinds_for(session, job), place) if one.code != tap.code)
    return TapHere(tap.code, tap.tap_type.code, tap.tap_type.thread, holes, life.holes, outlook, fresh, slips), None


def _kinds_for(session: Session, job: Job) -> list[int]:
    """Tap types that cut the job's thread."""
    kinds = session.execute(select(TapType.id, TapType.thread))
    return [kind for kind, thread in kinds if same_thread(thread, job.thread)]
