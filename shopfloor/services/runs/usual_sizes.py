"""What is usual for a job at a station: for questioning odd numbers and suggesting the next ones."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from shopfloor.core.input.plausibility import (
    LAST,
    Past,
    Typed,
    Usual,
    ask_back,
    doubts_of,
    last_batch,
    ordinary,
    usual_batch,
)
from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import Confirmed, DepthControl, Lubricant
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.services.runs.batch_size import as_made
from shopfloor.services.runs.runs import resolve
from shopfloor.store import Job, Run, Station
from shopfloor.store.queries.last_runs import RUNS_READ, newest_runs
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.output import holes_by_job


@dataclass(frozen=True)
class Habit:
    """How a job was worked on at a station.

    Attributes
    ----------
    usual            what typed numbers are compared with
    last_batch       the last batch here, over all its taps, that nobody had to confirm
    last_batch_id    its id, where no other batch came after it
    depth_control    as in the last run here; None where there is none, or nobody said
    lubricant        likewise
    """

    usual: Usual
    last_batch: int | None = None
    last_batch_id: uuid.UUID | None = None
    depth_control: DepthControl | None = None
    lubricant: Lubricant | None = None


def habit_of(session: Session, place: Station, job: Job, *, without: uuid.UUID | None = None) -> Habit:
    """How this job was worked on at the station; a run that is being corrected is left out."""
    return habits_of(session, place, [job], without=without)[job.id]


def habits_of(
    session: Session, place: Station, jobs: Sequence[Job], *, without: uuid.UUID | None = None
) -> Mapping[int, Habit]:
    """How each of the jobs was worked on at the station, by its id, in three statements."""
    made = _made(session, jobs, without)
    runs = _last_runs(session, place, jobs, without)
    return {job.id: _habit(job, made.get(job.id, 0), runs.get(job.id, [])) for job in jobs}


def _made(session: Session, jobs: Sequence[Job], without: uuid.UUID | None) -> dict[int, int]:
    """Holes made in each job, but for one run."""
    made = holes_by_job(session, [job.id for job in jobs])
    left_out = None if without is None else session.scalar(select(Run).where(Run.id == without, counts(Run)))
    if left_out is not None and left_out.job_id in made:
        made[left_out.job_id] -= left_out.holes_made
    return made


def confirmed_in(
    work: Work, entered: RunEntry, offered: int | None, sure: str, corrects: uuid.UUID | None = None
) -> RunEntry:
    """The run as entered, with the numbers that `sure` (in the form of `ask_back`) confirms.

    Of a correction only what it changes is asked back; what was confirmed of the rest stays so. What is stored already
    is not asked back again.

    Raises
    ------
    InputError    as `resolve` raises it: what is wrong is told before what is odd
    Doubtful      a number is odd, and nobody has confirmed it
    """
    with work.read() as session:
        if session.get(Run, entered.id) is not None:
            return entered
        resolve(session, entered)
        old = session.get(Run, corrects) if corrects is not None else None
        usual = _usual_for(session, entered, corrects)
        unchanged = frozenset() if old is None else _unchanged(old, entered)
        kept = unchanged & frozenset(_confirmed_words(old)) if old is not None else frozenset()
    slips = None if entered.slip_holes else entered.cutting_slips
    typed = Typed(entered.holes, as_made(entered).holes, slips, entered.rpm, offered)
    now = {*ask_back([doubt for doubt in doubts_of(typed, usual) if doubt.field not in unchanged], sure), *kept}
    return replace(entered, confirmed=tuple(word for word in Confirmed if word.value in now))


def _usual_for(session: Session, entry: RunEntry, without: uuid.UUID | None) -> Usual:
    place = find_in(session, Station, entry.station) if entry.station else None
    job = find_in(session, Job, entry.job) if entry.job else None
    return Usual() if place is None or job is None else habit_of(session, place, job, without=without).usual


def _confirmed_words(run: Run | Row[Any]) -> list[str]:
    return (run.confirmed or "").split()


def _unchanged(old: Run, entry: RunEntry) -> frozenset[str]:
    """Numbers that a correction leaves unchanged."""
    now = as_made(entry)
    same = {
        Confirmed.HOLES: old.holes == now.holes,
        Confirmed.SLIPS: (old.holes, old.cutting_slips) == (now.holes, now.cutting_slips),
        Confirmed.SPEED: old.rpm == now.rpm,
    }
    return frozenset(word.value for word, is_same in same.items() if is_same)


def _last_runs(
    session: Session, place: Station, jobs: Sequence[Job], without: uuid.UUID | None
) -> dict[int, list[Row[Any]]]:
    """The last runs of each job, newest first, those at the station before all others."""
    found = newest_runs(session, [job.id for job in jobs], place.id, without, is_here=True)
    short = [job.id for job in jobs if len(found.get(job.id, ())) < RUNS_READ]
    for job, runs in newest_runs(session, short, place.id, without, is_here=False).items():
        found[job] = [*found.get(job, ()), *runs][:RUNS_READ]
    return found


def _habit(job: Job, made: int, runs: Sequence[Row[Any]]) -> Habit:
    here = [run for run in runs if run.is_here]
    batches = _batches(here or runs, are_all=len(runs) < RUNS_READ)
    last = last_batch(batches) if here else None
    speeds = ordinary([Past(run.rpm, Confirmed.SPEED.value in _confirmed_words(run)) for run in here[:LAST]])
    left = job.holes_per_part * job.planned_quantity - made if job.holes_per_part and job.planned_quantity else None
    return Habit(
        Usual(usual_batch(batches), left, speeds[0] if speeds else None),
        last,
        here[0].batch if last is not None and batches[0].number == last else None,
        here[0].depth_control if here else None,
        here[0].lubricant if here else None,
    )


def _batches(runs: Sequence[Row[Any]], *, are_all: bool) -> list[Past]:
    """The last batches over all their taps, newest first; the oldest is left out where runs of it may be missing."""
    found: dict[uuid.UUID, Past] = {}
    for run in runs:
        earlier = found.get(run.batch, Past(0, is_confirmed=False))
        is_confirmed = earlier.is_confirmed or Confirmed.HOLES.value in _confirmed_words(run)
        found[run.batch] = Past(earlier.number + run.holes, is_confirmed)
    batches = list(found.values())
    return batches if are_all or len(batches) == 1 else batches[:-1]
