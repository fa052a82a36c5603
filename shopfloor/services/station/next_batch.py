"""The next batch of a job at a station, as every page predicts it: its holes, speed and lubricant.

It is as large as the station suggests (`batch_size`); if nothing is known there, as the mean of the last runs.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import Lubricant
from shopfloor.services.record.work import Work
from shopfloor.services.runs.batch_size import Portion, offered_portion
from shopfloor.services.runs.usual_sizes import Habit, habits_of
from shopfloor.services.station.choices import station_choice
from shopfloor.store import Job, Station
from shopfloor.store.queries.fitted import PastRun, last_runs_by_place, last_runs_by_tap

RUNS_LOOKED_AT = 5
"""Number of last runs whose mean predicts the size of the next batch. Common practice, no source."""

TYPICAL_BATCH = 50
"""Holes for which a risk is given if nothing is known of the batch. Common practice, no source."""

StationJob = tuple[int, int]
"""Station and job."""


@dataclass(frozen=True)
class Coming:
    """What comes next of a job at a station.

    `portion` None: the number of holes is not known. Speed and lubricant are as last used, None if not stated.
    """

    job: Job
    portion: Portion | None
    rpm: int | None
    lubricant: Lubricant | None


def coming_at(work: Work, session: Session, places: Collection[StationJob]) -> dict[StationJob, Coming]:
    """What comes next in each job at each station; each station is queried once."""
    stations = [session.get_one(Station, station) for station in sorted({station for station, _ in places})]
    jobs = {job.id: job for job in session.scalars(select(Job).where(Job.id.in_({job for _, job in places})))}
    found: dict[StationJob, Coming] = {}
    for station in stations:
        here = [jobs[job] for place, job in places if place == station.id]
        habits = habits_of(session, station, here)
        for job in here:
            habit = habits[job.id]
            offered = portion_of(habit, work.settings.largest_batch)
            found[station.id, job.id] = Coming(job, offered, next_rpm(station, job, habit), habit.lubricant)
    return found


def portion_of(habit: Habit, largest: int) -> Portion | None:
    """The holes that the station suggests for the next batch of a job."""
    return offered_portion(habit.last_batch, habit.usual.left, largest)


def next_rpm(place: Station, job: Job | None, habit: Habit) -> int | None:
    """The job's last speed at the station, else the planned one; within the station's range."""
    planned = None if job is None else job.planned_rpm
    return station_choice(place).clamped(planned if habit.usual.rpm is None else habit.usual.rpm)


def holes_foretold(portion: Portion | None, runs: Sequence[PastRun]) -> int:
    """The holes for which a risk is given: those suggested, else the mean of the last runs, rounded up."""
    if portion is not None:
        return portion.holes
    return max(1, math.ceil(sum(run.holes for run in runs) / len(runs))) if runs else TYPICAL_BATCH


def last_runs(session: Session, tap: int, tap_type: int, station: int) -> Sequence[PastRun]:
    """The last runs of the tap; if it has none, those of its type at the station."""
    own = last_runs_by_tap(session, RUNS_LOOKED_AT, [tap]).get(tap)
    return own or last_runs_by_place(session, RUNS_LOOKED_AT, station).get((station, tap_type), [])
