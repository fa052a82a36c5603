"""Rows that would count a stored run twice: those corrected in the file and then imported again."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Problem
from shopfloor.core.phrases import Phrase, phrase, phrase_of
from shopfloor.services.record.revisions import clock_time
from shopfloor.services.record.work import Work
from shopfloor.store import Run, Tap
from shopfloor.store.queries.log import counts

_TAPS_AT_ONCE = 500
_Occasion = tuple[int, datetime, int | None, int | None]
"""Tap, end, station and job: of two runs that share them, one is most likely a correction of the other."""


def doubled(
    session: Session,
    work: Work,
    new: Sequence[Mapping[str, Any]],
    in_file: Collection[uuid.UUID],
    row_of: Mapping[int, int],
) -> list[Problem]:
    """A problem for each new run that shares tap, end, station and job with a stored one missing from the file.

    `new` holds the columns of runs to be stored, `in_file` the first ids of stored runs whose rows the file still has:
    beside those a further row is a further run. `row_of` tells the row of each position.
    """
    lost = _lost(session, new, in_file)
    return [
        Problem("when", _what(work, session, stored), _remedy(stored), row_of[run["position"]])
        for run in new
        if (stored := lost.get(_occasion(run))) is not None
    ]


def _occasion(run: Mapping[str, Any]) -> _Occasion:
    return run["tap_id"], run["ended_at"], run["station_id"], run["job_id"]


def _lost(
    session: Session, new: Sequence[Mapping[str, Any]], in_file: Collection[uuid.UUID]
) -> Mapping[_Occasion, Run]:
    """Stored runs that count and that no row of the file stands for, the oldest of each occasion."""
    found: dict[_Occasion, Run] = {}
    for run in _stored(session, new):
        if run.original_id not in in_file:
            found.setdefault((run.tap_id, run.ended_at, run.station_id, run.job_id), run)
    return found


def _stored(session: Session, new: Sequence[Mapping[str, Any]]) -> Iterator[Run]:
    """Every run that counts of a tap in the file, within the time span of the new rows."""
    times: defaultdict[int, list[datetime]] = defaultdict(list)
    for run in new:
        times[run["tap_id"]].append(run["ended_at"])
    taps = sorted(times)
    for start in range(0, len(taps), _TAPS_AT_ONCE):
        some = taps[start : start + _TAPS_AT_ONCE]
        at = [moment for tap in some for moment in times[tap]]
        within = select(Run).where(Run.tap_id.in_(some), Run.ended_at.between(min(at), max(at)), counts(Run))
        yield from session.scalars(within.order_by(Run.position))


def _what(work: Work, session: Session, stored: Run) -> Phrase:
    return phrase_of(
        stored.holes,
        "it would count a run twice: {tap} made {holes} hole at that time, station and job ({at}, stored as {id}), "
        "and no row of the file says so any more",
        "it would count a run twice: {tap} made {holes} holes at that time, station and job ({at}, stored as {id}), "
        "and no row of the file says so any more",
        tap=session.get_one(Tap, stored.tap_id).code,
        holes=stored.holes,
        at=clock_time(work, stored.ended_at),
        id=stored.id,
    )


def _remedy(stored: Run) -> Phrase:
    if stored.station_id is None:
        return phrase("restore the row; if both runs were made, keep both rows")
    return phrase(
        "restore the row and correct the run among its station's entries; if both runs were made, keep both rows"
    )
