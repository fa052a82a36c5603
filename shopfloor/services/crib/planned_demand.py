"""Demand of the planned jobs for each tap type."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from shopfloor.core.floor.stock import PlannedWork
from shopfloor.core.threads import same_thread
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.store import TapType
from shopfloor.store.queries.log import cutting_conditions
from shopfloor.store.queries.output import JobUse
from shopfloor.store.queries.stock import OpenJob

Works = list[tuple[date, PlannedWork]]


def planned_works(
    jobs: Iterable[OpenJob], uses: Sequence[JobUse], kinds: Sequence[TapType], book: LifeBook
) -> Mapping[int, Works]:
    """By tap type: the date and the work that each open job still requires of it.

    A job's holes are split among the tap types as they were recently: in the job itself, else in the same thread and
    material, else in the same thread; without any such run, equally among all types of the thread.
    """
    by_id = {kind.id: kind for kind in kinds}
    found: defaultdict[int, Works] = defaultdict(list)
    for job in jobs:
        left = job.planned_holes - sum(use.holes for use in uses if use.job == job.id)
        if left <= 0:
            continue
        for tap_type, share in _shares(job, uses, by_id).items():
            holes_a_tap = _holes_per_tap(job, _rpm(job, uses), by_id[tap_type], book)
            if holes_a_tap is not None:
                found[tap_type].append((job.due_on, PlannedWork(job.code, left * share, holes_a_tap)))
    return found


def _shares(job: OpenJob, uses: Sequence[JobUse], kinds: Mapping[int, TapType]) -> dict[int, float]:
    fitting = [kind.id for kind in kinds.values() if same_thread(kind.thread, job.thread)]
    alike = [use for use in uses if use.tap_type in fitting]
    for group in (
        [use for use in uses if use.job == job.id],
        [use for use in alike if use.material == job.material],
        alike,
    ):
        weights = _weights(group)
        if weights:
            return {tap_type: weight / weights.total() for tap_type, weight in weights.items()}
    return {tap_type: 1 / len(fitting) for tap_type in fitting}


def _weights(uses: Sequence[JobUse]) -> Counter[int]:
    """Holes by tap type: recent ones, if there are any."""
    lately, ever = Counter[int](), Counter[int]()
    for use in uses:
        lately[use.tap_type] += use.lately
        ever[use.tap_type] += use.holes
    return +lately or +ever


def _rpm(job: OpenJob, uses: Sequence[JobUse]) -> float | None:
    """The planned speed, else the mean one of the job's runs."""
    own = [use for use in uses if use.job == job.id]
    holes = sum(use.holes for use in own)
    return job.rpm or (sum(use.rpm * use.holes for use in own) / holes if holes else None)


def _holes_per_tap(job: OpenJob, rpm: float | None, kind: TapType, book: LifeBook) -> float | None:
    advice = book.advice(cutting_conditions(kind.id, kind.thread, job.material, rpm))
    if advice.change is not None:
        return advice.change.holes_per_tap
    # Conservative: the holes that such taps have made so far.
    seen = advice.evidence
    return seen.holes / seen.taps if seen.taps and seen.holes > 0 else None
