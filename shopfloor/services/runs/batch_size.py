"""How many holes come next: the number suggested for a batch, and what is left of it when a tap fails."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from shopfloor.core.floor.tap_lives import holes_made
from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import TapEnd


class Why(Enum):
    """Where a suggested number of holes comes from."""

    LAST_TIME = "last time"
    LEFT_ON_JOB = "left on the job"
    REST_OF_BATCH = "rest of the batch"


@dataclass(frozen=True)
class Portion:
    """A suggested number of holes for the next run, and where it comes from."""

    holes: int
    why: Why


def offered_portion(last_batch: int | None, left_on_job: int | None, largest: int) -> Portion | None:
    """The number of holes that an operator will most likely make next; None if nothing is known.

    Usually the batch is as large as the last one; it ends with the job, and a job that needs no more holes than one
    batch may hold is one batch the first time.
    """
    is_over = left_on_job is not None and left_on_job <= 0
    if last_batch is not None and (left_on_job is None or is_over or last_batch <= left_on_job):
        return Portion(last_batch, Why.LAST_TIME)
    if left_on_job is None or is_over or left_on_job > largest:
        return None
    return Portion(left_on_job, Why.LEFT_ON_JOB)


def as_made(entry: RunEntry) -> RunEntry:
    """The run with the holes that its tap made."""
    return replace(entry, holes=holes_made(entry.holes, entry.broke_at_hole))


def rest_of_batch(entered: RunEntry, offered: int | None) -> int | None:
    """Holes left in a batch after this run; None if nobody can tell.

    An operator who enters the whole batch and the hole of the break has said how large the batch is. One who enters
    only what the tap made is believed to go on to the number that was offered.
    """
    made = as_made(entered).holes
    if entered.tap_end is TapEnd.BROKEN and entered.broke_at_hole is None:
        return None
    total = entered.holes if entered.holes > made else max(offered or 0, entered.holes)
    return total - made
