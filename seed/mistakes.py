"""Mistyped entries that were corrected or cancelled afterwards."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from seed.journal import Journal
from seed.rows import Cancellation, Correction, Run
from seed.shop import QUALITY_LEAD
from shopfloor.core.vocabulary import DepthControl, Lubricant, TapEnd

_NEVER_IN_LAST_RUNS = 60
_DOUBLE_ENTRY_AFTER = timedelta(seconds=35)
_NOTICED_AFTER = (120, 5400)

Slip = tuple[int, str, Callable[[Run], bool], Callable[[Run], Run]]

_CORRECTED: tuple[Slip, ...] = (
    (6, "typed a zero too many", lambda run: run.holes < 100, lambda run: replace(run, holes=run.holes * 10)),
    (
        5,
        "had counted the slips at the bottom of the holes",
        lambda run: run.depth_control is DepthControl.CLUTCH,
        lambda run: replace(run, cutting_slips=run.cutting_slips + run.holes),
    ),
    (
        4,
        "lubricant left as on the job before",
        lambda run: run.lubricant is Lubricant.BRUSHED,
        lambda run: replace(run, lubricant=Lubricant.MIST),
    ),
)
_CANCELLED = 6


def make_mistakes(rng: random.Random, journal: Journal) -> None:
    """Introduce errors into a few ordinary runs as first logged, and record how each was corrected."""
    ordinary = [number for number, run in enumerate(journal.runs[:-_NEVER_IN_LAST_RUNS]) if _is_ordinary(run)]
    rng.shuffle(ordinary)
    for many, reason, fits, spoil in _CORRECTED:
        chosen = [number for number in ordinary if fits(journal.runs[number])][:many]
        ordinary = [number for number in ordinary if number not in chosen]
        for number in chosen:
            _correct(rng, journal, number, reason, spoil)
    for number in sorted(ordinary[:_CANCELLED]):
        _log_twice(rng, journal, journal.runs[number])


def _is_ordinary(run: Run) -> bool:
    return run.tap_end is TapEnd.STILL_GOOD and not run.note


def _correct(rng: random.Random, journal: Journal, number: int, reason: str, spoil: Callable[[Run], Run]) -> None:
    right = journal.runs[number]
    at = right.recorded_at + timedelta(seconds=rng.randint(*_NOTICED_AFTER))
    journal.runs[number] = spoil(right)
    corrected = replace(right, id=journal.new_id(), recorded_at=at)
    journal.corrections.append(Correction(right.id, corrected, reason, rng.choice((right.person, QUALITY_LEAD)), at))


def _log_twice(rng: random.Random, journal: Journal, run: Run) -> None:
    at = run.recorded_at + timedelta(seconds=rng.randint(*_NOTICED_AFTER))
    twin = replace(
        run,
        id=journal.new_id(),
        ended_at=run.ended_at + _DOUBLE_ENTRY_AFTER,
        device_time=run.device_time,
        recorded_at=run.recorded_at + _DOUBLE_ENTRY_AFTER,
    )
    journal.runs.append(twin)
    journal.cancellations.append(Cancellation(twin.id, "logged twice", run.person, at))
