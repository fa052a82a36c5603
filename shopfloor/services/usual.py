"""What is usual on a job at a station, by which a number that was typed wrong is asked back and the next is offered."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import ColumnElement, case, func, select
from sqlalchemy.orm import Session

from shopfloor.core.entries import RunEntry
from shopfloor.core.plausible import (
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
from shopfloor.core.vocabulary import Confirmed, DepthControl, Lubricant
from shopfloor.services.batches import resolve
from shopfloor.services.codes import find_in
from shopfloor.services.portions import as_made
from shopfloor.services.work import Work
from shopfloor.store import Job, Run, Station
from shopfloor.store.queries.log import counts

HOLES_MADE = func.coalesce(Run.broke_at_hole, Run.holes)


@dataclass(frozen=True)
class Habit:
    """How a job was worked on at a station.

    Attributes
    ----------
    usual            what typed numbers are held to
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
    """How each of the jobs was worked on at the station, by its id, in two statements."""
    which = Run.job_id.in_([job.id for job in jobs]) & counts(Run)
    if without is not None:
        which &= Run.id != without
    batches, made = _batches(session, place, which)
    runs = _runs(session, place, which)
    return {job.id: _habit(job, batches.get(job.id, []), made.get(job.id, 0), runs.get(job.id, [])) for job in jobs}


@dataclass(frozen=True)
class _Batch:
    """One of a job's last batches, over all its taps."""

    id: uuid.UUID
    is_here: bool
    past: Past


def confirmed_in(
    work: Work, entered: RunEntry, offered: int | None, sure: str, corrects: uuid.UUID | None = None
) -> RunEntry:
    """The run as entered, with what `sure` (as `ask_back` reads it) confirms.

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


def _confirmed_words(run: Run) -> list[str]:
    return (run.confirmed or "").split()


def _unchanged(old: Run, entry: RunEntry) -> frozenset[str]:
    """Numbers that a correction leaves as they were."""
    now = as_made(entry)
    same = {
        Confirmed.HOLES: old.holes == now.holes,
        Confirmed.SLIPS: (old.holes, old.cutting_slips) == (now.holes, now.cutting_slips),
        Confirmed.SPEED: old.rpm == now.rpm,
    }
    return frozenset(word.value for word, is_same in same.items() if is_same)


def _batches(
    session: Session, place: Station, which: ColumnElement[bool]
) -> tuple[dict[int, list[_Batch]], dict[int, int]]:
    """By job: its last batches, those here first; and all holes made."""
    is_here, batch = _is_here(place), func.coalesce(Run.batch_id, Run.id)
    holes, ended = func.sum(HOLES_MADE), func.max(Run.ended_at)
    order = (is_here.desc(), ended.desc(), func.max(Run.position).desc())
    each = (
        select(
            Run.job_id,
            batch.label("batch"),
            is_here.label("is_here"),
            holes.label("holes"),
            func.max(_confirmed(Confirmed.HOLES)).label("is_confirmed"),
            func.sum(holes).over(partition_by=Run.job_id).label("made"),
            func.row_number().over(partition_by=Run.job_id, order_by=order).label("place"),
        )
        .where(which)
        .group_by(Run.job_id, is_here, batch)
        .subquery()
    )
    found: dict[int, list[_Batch]] = {}
    made: dict[int, int] = {}
    for row in session.execute(select(each).where(each.c.place <= LAST).order_by(each.c.place)):
        past = Past(int(row.holes), bool(row.is_confirmed))
        found.setdefault(row.job_id, []).append(_Batch(row.batch, bool(row.is_here), past))
        made[row.job_id] = int(row.made)
    return found, made


def _runs(session: Session, place: Station, which: ColumnElement[bool]) -> dict[int, list[Run]]:
    """By job its last runs at the station, newest first."""
    order = (Run.ended_at.desc(), Run.position.desc())
    number = func.row_number().over(partition_by=Run.job_id, order_by=order).label("place")
    last = select(Run.id, number).where(which, Run.station_id == place.id).subquery()
    query = select(Run).join(last, last.c.id == Run.id).where(last.c.place <= LAST).order_by(last.c.place)
    found: dict[int, list[Run]] = {}
    for run in session.scalars(query):
        if run.job_id is not None:
            found.setdefault(run.job_id, []).append(run)
    return found


def _habit(job: Job, batches: Sequence[_Batch], made: int, runs: Sequence[Run]) -> Habit:
    here = [batch for batch in batches if batch.is_here]
    usual = usual_batch([batch.past for batch in here or batches])
    last = last_batch([batch.past for batch in here])
    speeds = ordinary([Past(run.rpm, Confirmed.SPEED.value in _confirmed_words(run)) for run in runs])
    left = job.holes_per_part * job.planned_quantity - made if job.holes_per_part and job.planned_quantity else None
    newest = runs[0] if runs else None
    return Habit(
        Usual(usual, left, speeds[0] if speeds else None),
        last,
        here[0].id if last is not None and here[0].past.number == last else None,
        newest.depth_control if newest else None,
        newest.lubricant if newest else None,
    )


def _is_here(place: Station) -> ColumnElement[int]:
    return case((Run.station_id == place.id, 1), else_=0)


def _confirmed(word: Confirmed) -> ColumnElement[int]:
    return case((Run.confirmed.contains(word.value), 1), else_=0)
