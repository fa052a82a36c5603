"""The lists that a tablet keeps for offline use: people, jobs, taps, tap types, stations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from shopfloor.core.input.plausibility import Usual
from shopfloor.core.threads import thread_key
from shopfloor.services.record.work import Work
from shopfloor.services.runs.usual_sizes import habits_of
from shopfloor.services.station.choices import (
    JobChoice,
    PersonChoice,
    jobs,
    known_holes,
    living_taps,
    people,
    station_row,
)
from shopfloor.store import Job, Station, TapType


@dataclass(frozen=True)
class KeptTap:
    """A tap that could go in. `holes` None: unknown. `thread`: the same text for the same thread."""

    code: str
    tap_type: str
    thread: str
    holes: int | None
    is_here: bool


@dataclass(frozen=True)
class KeptType:
    """A tap type whose new taps may be in the box, and their place in the crib."""

    code: str
    thread: str
    bin: str | None


@dataclass(frozen=True)
class KeptStation:
    """A station whose label may be scanned."""

    code: str
    name: str


@dataclass(frozen=True)
class KeptLists:
    """What can be chosen at a station, and as of when."""

    at: datetime
    people: tuple[PersonChoice, ...]
    jobs: tuple[JobChoice, ...]
    taps: tuple[KeptTap, ...]
    tap_types: tuple[KeptType, ...]
    stations: tuple[KeptStation, ...]
    usual: Mapping[str, Usual]
    """What typed numbers are compared with, by job code."""


def kept_lists(work: Work, station: str) -> KeptLists:
    """What can be chosen at this station now.

    Raises
    ------
    NotFound    no such station
    """
    who, what = people(work, station), jobs(work, station)
    wanted = {thread_key(job.thread) for job in what}
    with work.read() as session:
        place = station_row(session, station)
        kinds = [kind for kind in session.scalars(select(TapType)) if kind.thread and thread_key(kind.thread) in wanted]
        threads = {kind.id: thread_key(kind.thread or "") for kind in kinds}
        taps = tuple(
            KeptTap(
                tap.code,
                tap.tap_type.code,
                threads[tap.tap_type_id],
                known_holes(life),
                life.station_id == place.id,
            )
            for tap, life in living_taps(session, kinds, place)
        )
        types = tuple(KeptType(kind.code, threads[kind.id], kind.bin) for kind in kinds)
        places = tuple(KeptStation(row.code, row.name) for row in session.scalars(select(Station).order_by(Station.id)))
        rows = session.scalars(select(Job).where(Job.code.in_([job.code for job in what]))).all()
        habits = habits_of(session, place, rows)
        usual = {row.code: habits[row.id].usual for row in rows}
        return KeptLists(work.clock(), who, what, taps, types, places, usual)
