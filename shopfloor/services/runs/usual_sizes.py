"""What is usual for a job at a station: for questioning odd numbers and suggesting the next ones."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from sqlalchemy import Integer, Row, Select, Uuid, bindparam, func, literal, select, union_all
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
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.output import holes_by_job

_RUNS_READ = 20
"""For each job; enough to hold five batches."""

_SLOTS = (1, 4, 16, 64)
"""For how many jobs a statement is made; slots that are left over ask for no job."""
_JOBS_AT_ONCE = _SLOTS[-1]
"""SQLite takes up to 500 parts of a union."""

_NO_RUN = uuid.UUID(int=0)


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
    found = _newest(session, jobs, place, without, is_here=True)
    short = [job for job in jobs if len(found.get(job.id, ())) < _RUNS_READ]
    for job, runs in _newest(session, short, place, without, is_here=False).items():
        found[job] = [*found.get(job, ()), *runs][:_RUNS_READ]
    return found


def _newest(
    session: Session, jobs: Sequence[Job], place: Station, without: uuid.UUID | None, *, is_here: bool
) -> dict[int, list[Row[Any]]]:
    """The newest runs of each job, of each found by index, however long the log is."""
    found: dict[int, list[Row[Any]]] = {}
    for start in range(0, len(jobs), _JOBS_AT_ONCE):
        some = jobs[start : start + _JOBS_AT_ONCE]
        slots = next(slots for slots in _SLOTS if slots >= len(some))
        asked: dict[str, Any] = {f"job_{slot}": None for slot in range(slots)}
        asked |= {f"job_{slot}": job.id for slot, job in enumerate(some)}
        query = _newest_runs(slots, is_here=is_here)
        for row in session.execute(query, asked | {"station": place.id, "without": without or _NO_RUN}):
            found.setdefault(row.job_id, []).append(row)
    return found


@cache
def _newest_runs(slots: int, *, is_here: bool) -> Select[Any]:
    """The statement for up to so many jobs; made once, since SQLAlchemy needs longer for it than the database."""
    batch = func.coalesce(Run.batch_id, Run.id).label("batch")
    columns = (
        Run.job_id, Run.ended_at, Run.position, batch, Run.holes_made.label("holes"), Run.rpm, Run.depth_control,
        Run.lubricant, Run.confirmed, literal(is_here).label("is_here"),
    )  # fmt: skip
    station = bindparam("station", type_=Integer)
    where = Run.station_id == station if is_here else Run.station_id.is_(None) | (Run.station_id != station)
    newest = select(*columns).where(where, Run.id != bindparam("without", type_=Uuid), counts(Run))
    newest = newest.order_by(Run.ended_at.desc(), Run.position.desc()).limit(_RUNS_READ)
    of_job = [newest.where(Run.job_id == bindparam(f"job_{slot}", type_=Integer)) for slot in range(slots)]
    together = union_all(*(select(one.subquery()) for one in of_job)).subquery()
    return select(together).order_by(together.c.job_id, together.c.ended_at.desc(), together.c.position.desc())


def _habit(job: Job, made: int, runs: Sequence[Row[Any]]) -> Habit:
    here = [run for run in runs if run.is_here]
    batches = _batches(here or runs, are_all=len(runs) < _RUNS_READ)
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
