"""Advice that a tablet can keep: the risk of the tap in the station, for batches and holes that are yet to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.intervals import Estimate
from shopfloor.services.choices import job_row, known_holes, living_taps, same_thread
from shopfloor.services.outlook import OutlookBook
from shopfloor.services.station import conditions_at
from shopfloor.services.work import Work
from shopfloor.store import Station, Tap, TapLife, TapType

FURTHER = (0, 25, 50, 100, 200, 400, 800)
"""Holes that a tap may make while the server is away, between which the tablet interpolates."""

BATCHES = (10, 25, 50, 100, 200, 400)
"""Holes of the batch that comes then."""

MOST_JOBS = 5
"""Jobs for which advice is kept, those that were last on the station; a tablet has no use for more."""

_DIGITS = 4


@dataclass(frozen=True)
class KeptAdvice:
    """What the log said of one tap in one job, and what it will say after further holes; JSON as it stands.

    Attributes
    ----------
    made         holes on the tap
    change_at    holes at which it is best changed; None where nothing is gained by changing in time
    further      holes made since, one for each row of `risks`
    batches      holes to come, one for each column
    risks        chance of a break with its interval's ends, or None where nothing can be said
    """

    tap: str
    job: str
    made: int
    change_at: int | None
    level: float
    further: tuple[int, ...]
    batches: tuple[int, ...]
    risks: tuple[tuple[tuple[float, float, float] | None, ...], ...]


def kept_advice(work: Work, session: Session, place: Station, jobs: Sequence[str]) -> tuple[KeptAdvice, ...]:
    """Advice for each tap in the station, in the first of these jobs whose thread it cuts.

    Only taps of which the log knows the holes, and only where it can tell a risk.
    """
    kept: list[KeptAdvice] = []
    kinds = session.scalars(select(TapType)).all()
    for code in jobs[:MOST_JOBS]:
        job = job_row(session, code)
        fitting = [kind for kind in kinds if same_thread(kind.thread, job.thread)]
        conditions = conditions_at(session, place, job)
        book = OutlookBook(work, session, fitting, job, conditions.rpm, conditions.lubricant, BATCHES[0])
        here = [(tap, life) for tap, life in living_taps(session, fitting, place) if life.station_id == place.id]
        found = (_advice(book, tap, life, code) for tap, life in here)
        kept += [one for one in found if one is not None]
    return tuple(kept)


def _advice(book: OutlookBook, tap: Tap, life: TapLife, job: str) -> KeptAdvice | None:
    made = known_holes(life)
    if made is None:
        return None
    ahead = book.ahead(tap.tap_type, made, life, FURTHER, BATCHES)
    if ahead is None:
        return None
    risks = tuple(tuple(_rounded(risk) for risk in row) for row in ahead.risks)
    return KeptAdvice(tap.code, job, made, ahead.change_at, ahead.level, FURTHER, BATCHES, risks)


def _rounded(risk: Estimate) -> tuple[float, float, float] | None:
    if risk.value is None:
        return None
    value, lower, upper = (float(f"{one:.{_DIGITS}g}") for one in (risk.value, risk.lower, risk.upper))
    return value, lower, upper
