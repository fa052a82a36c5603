"""Which runs a failed gauge check puts in doubt: those since the tap was last known to cut good threads."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import Enum, IntEnum


class Since(Enum):
    """Since when a tap's threads are in doubt."""

    NEW = "new"
    REGROUND = "reground"
    PASSED = "passed"


class EventKind(IntEnum):
    """What happened to a tap, in the order in which simultaneous events count.

    A run comes before the check of its thread, as in the tap's lives. Where a check passed and failed at the same time,
    the runs before it stay in doubt.
    """

    RUN, FAILED, PASSED, REGROUND = range(4)


@dataclass(frozen=True)
class Moment:
    """One event of a tap.

    Attributes
    ----------
    at          when it happened
    kind        run, gauge check or regrind
    id          of the event
    position    orders runs of the same time
    """

    at: datetime
    kind: EventKind
    id: uuid.UUID
    position: int = 0


@dataclass(frozen=True)
class Suspicion:
    """A failed check with the runs that it puts in doubt, oldest first.

    Attributes
    ----------
    check, at    the failed check and its time
    start        what the doubt goes back to
    since        when a check passed or the tap came back from regrinding; None where it was new
    runs         the runs in doubt
    again        further failed checks of the same runs
    """

    check: uuid.UUID
    at: datetime
    start: Since
    since: datetime | None
    runs: tuple[uuid.UUID, ...]
    again: tuple[uuid.UUID, ...] = ()


_BEGINS = {EventKind.PASSED: Since.PASSED, EventKind.REGROUND: Since.REGROUND}


def suspicions(moments: Iterable[Moment]) -> list[Suspicion]:
    """Every failed check of one tap with the runs since the last check that passed, or since it was new or reground.

    A check that fails again, with no run, regrind or passed check in between, belongs to the first.
    """
    found: list[Suspicion] = []
    start, since, runs = Since.NEW, None, list[uuid.UUID]()
    is_again = False
    for moment in sorted(moments, key=lambda one: (one.at, one.kind, one.position)):
        if moment.kind is EventKind.RUN:
            runs.append(moment.id)
        elif moment.kind is not EventKind.FAILED:
            start, since, runs = _BEGINS[moment.kind], moment.at, []
        elif is_again:
            found[-1] = replace(found[-1], again=(*found[-1].again, moment.id))
        else:
            found.append(Suspicion(moment.id, moment.at, start, since, tuple(runs)))
        is_again = moment.kind is EventKind.FAILED
    return found
