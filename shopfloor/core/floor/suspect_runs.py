"""Which runs a failed gauge check puts in doubt: those since the last moment at which the tap was known to cut well."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import Enum, IntEnum


class Since(Enum):
    """From when on a tap's threads are in doubt."""

    NEW = "new"
    REGROUND = "reground"
    PASSED = "passed"


class Deed(IntEnum):
    """What happened to a tap, in the order in which deeds of one instant count.

    A run comes before the check of its thread, as in the tap's lives. Where a check passed and failed at one time, the
    runs before stay in doubt.
    """

    RUN, FAILED, PASSED, REGROUND = range(4)


@dataclass(frozen=True)
class Moment:
    """One thing that happened to a tap: a run, a gauge check or a regrind. `position` orders runs of one instant."""

    at: datetime
    deed: Deed
    id: uuid.UUID
    position: int = 0


@dataclass(frozen=True)
class Suspicion:
    """A failed check with the runs that it puts in doubt, oldest first.

    `at` and `since` bound them: `since` is when a check passed or the tap came back from regrinding, None where it was
    new. `again` are further failed checks of the same runs.
    """

    check: uuid.UUID
    at: datetime
    start: Since
    since: datetime | None
    runs: tuple[uuid.UUID, ...]
    again: tuple[uuid.UUID, ...] = ()


_BEGINS = {Deed.PASSED: Since.PASSED, Deed.REGROUND: Since.REGROUND}


def suspicions(moments: Iterable[Moment]) -> list[Suspicion]:
    """Every failed check of one tap with the runs since the last check that passed, or since it was new or reground.

    A check that fails again, with no run, regrind or passed check in between, belongs to the first.
    """
    found: list[Suspicion] = []
    start, since, runs = Since.NEW, None, list[uuid.UUID]()
    is_again = False
    for moment in sorted(moments, key=lambda one: (one.at, one.deed, one.position)):
        if moment.deed is Deed.RUN:
            runs.append(moment.id)
        elif moment.deed is not Deed.FAILED:
            start, since, runs = _BEGINS[moment.deed], moment.at, []
        elif is_again:
            found[-1] = replace(found[-1], again=(*found[-1].again, moment.id))
        else:
            found.append(Suspicion(moment.id, moment.at, start, since, tuple(runs)))
        is_again = moment.deed is Deed.FAILED
    return found
