"""Lives in length of thread: each hole counts as its depth relative to the usual depth of its tap type.

A shop may choose this measure. Advice is still told in holes of the job to come, with the length beside it, and the
station says so if holes count as usual for want of a depth. The life page (curves, figures, effects) is in metres of
thread, in feet in an inch shop; a tap type of which no job gives a depth stays in holes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from itertools import groupby

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.floor.thread_length import ThreadCut, middle_depth
from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.store import ShopFact
from shopfloor.store.queries.histories import UseRow

LIFE_COUNTED_IN = "life counted in"
CHOSEN = select(ShopFact.value).where(ShopFact.name == LIFE_COUNTED_IN)


def life_measure(session: Session) -> LifeMeasure:
    """What this shop measures lives in; holes unless it chose otherwise."""
    return measure_of(session.scalar(CHOSEN))


def measure_of(chosen: str | None) -> LifeMeasure:
    """The measure for a stored choice."""
    return LifeMeasure.THREAD if chosen == LifeMeasure.THREAD.value else LifeMeasure.HOLES


def usual_depths(rows: Sequence[UseRow]) -> dict[int, float]:
    """The usual depth of thread in mm of each tap type: the median over its holes of known depth."""
    holes: defaultdict[int, Counter[float]] = defaultdict(Counter)
    for row in rows:
        if row.depth_mm is not None:
            holes[row.tap_type][row.depth_mm] += round(row.end - row.start)
    return {tap_type: middle_depth(made) for tap_type, made in holes.items()}


def in_length(rows: Sequence[UseRow], usual: Mapping[int, float]) -> tuple[UseRow, ...]:
    """The same lives, with every number of holes converted to holes of the tap type's usual depth.

    Holes whose depth nobody told count as usual: those of jobs without a depth, and those made before a tap was first
    seen. The prior is stated in holes, so a hole of usual depth stays the unit.
    """
    found: list[UseRow] = []
    for _, stretches in groupby(rows, key=lambda row: (row.tap, row.number)):
        found += _of_life(list(stretches), usual)
    return tuple(found)


def _of_life(life: Sequence[UseRow], usual: Mapping[int, float]) -> list[UseRow]:
    at = ThreadCut(((row.start, row.end, _weight(row, usual)) for row in life), 1.0).at
    return [
        row._replace(
            start=at(row.start),
            end=at(row.end),
            entry=None if row.entry is None else at(row.entry),
            lower=at(row.lower),
            upper=None if row.upper is None else at(row.upper),
        )
        for row in life
    ]


def _weight(row: UseRow, usual: Mapping[int, float]) -> float:
    """Holes of the usual depth that one of the stretch is worth; 1 while no usual depth of the tap type is known."""
    return 1.0 if row.depth_mm is None else row.depth_mm / usual.get(row.tap_type, row.depth_mm)
