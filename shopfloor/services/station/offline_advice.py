"""Advice for offline use: the risk of the tap in the station over a grid of future batches and holes.

Between the table's figures the tablet takes the hazard as constant, and beyond them it says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.decision.when_to_change import Timing
from shopfloor.core.hierarchical.prediction.slip_factor import SlipEvidence
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.threads import same_thread
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.advice.outlook import OutlookBook
from shopfloor.services.record.work import Work
from shopfloor.services.runs.usual_sizes import Habit, habits_of
from shopfloor.services.station.choices import job_row, jobs, known_holes, living_taps, station_row
from shopfloor.services.station.next_batch import next_rpm
from shopfloor.store import Job, Station, Tap, TapLife, TapType

FURTHER = (0, 25, 50, 100, 200, 400, 800)
"""Holes that a tap may make while the server is unreachable; the tablet interpolates between them."""

BATCHES = (10, 25, 50, 100, 200, 400)
"""Sizes of the batch that comes then."""

MOST_JOBS = 5
"""Number of jobs for which advice is kept, the latest at the station; a tablet has no use for more."""

_DIGITS = 4


@dataclass(frozen=True)
class KeptAdvice:
    """What the log says about one tap in one job, now and after further holes.

    Attributes
    ----------
    made         holes on the tap
    timing       when it is best changed, by which the tablet decides as the station page does; None: at failure
    usual_rate   mean breaks per hole of taps that are used as suggested
    further      holes made since, one for each row of `risks`
    batches      holes to come, one for each column
    risks        probability of a break with its interval, or None if nothing can be said
    slips        cutting slips of its last holes, reflected in the risks; None if they hardly raise them
    """

    tap: str
    job: str
    made: int
    timing: Timing | None
    usual_rate: float | None
    level: float
    further: tuple[int, ...]
    batches: tuple[int, ...]
    risks: tuple[tuple[tuple[float, float, float] | None, ...], ...]
    slips: SlipEvidence | None


def kept_advice(work: Work, station: str) -> tuple[KeptAdvice, ...]:
    """Advice for each tap in the station, for those of its last jobs whose thread it cuts.

    Only for taps whose holes are known, and only if the log supports a risk.

    Raises
    ------
    NotFound    no such station
    """
    codes = [job.code for job in jobs(work, station)[:MOST_JOBS]]
    with work.read() as session:
        place = station_row(session, station)
        kinds = session.scalars(select(TapType)).all()
        here = [(tap, life) for tap, life in living_taps(session, kinds, place) if life.station_id == place.id]
        rows = [job_row(session, code) for code in codes]
        pairs = [(job, *one) for job in rows for one in here if same_thread(one[0].tap_type.thread, job.thread)]
        if not pairs:
            return ()
        lives = LifeBook.open(work, session, [tap.tap_type_id for _, tap, _ in pairs])
        lives.read([tap.id for _, tap, _ in pairs])
        habits = habits_of(session, place, rows)
        found = (
            _advice(_book(work, session, place, job, habits[job.id], tap, lives), tap, life, job.code)
            for job, tap, life in pairs
        )
        return tuple(one for one in found if one is not None)


def _book(
    work: Work, session: Session, place: Station, job: Job, habit: Habit, tap: Tap, lives: LifeBook
) -> OutlookBook:
    rpm = next_rpm(place, job, habit)
    return OutlookBook(work, session, [tap.tap_type], job, rpm, habit.lubricant, BATCHES[0], lives)


def _advice(book: OutlookBook, tap: Tap, life: TapLife, job: str) -> KeptAdvice | None:
    made = known_holes(life)
    if made is None:
        return None
    ahead = book.ahead(tap.tap_type, made, life, FURTHER, BATCHES)
    if ahead is None:
        return None
    risks = tuple(tuple(_told(risk) for risk in row) for row in ahead.risks)
    usual = None if ahead.usual_rate is None else _rounded(ahead.usual_rate)
    slips = _rounded_slips(ahead.slips) if ahead.slips.raises else None
    return KeptAdvice(tap.code, job, made, ahead.timing, usual, ahead.level, FURTHER, BATCHES, risks, slips)


def _rounded_slips(told: SlipEvidence) -> SlipEvidence:
    """Rounded as on the pages."""
    return SlipEvidence(round(told.holes), round(told.slips), float(f"{told.usual:.2g}"), float(f"{told.factor:.2g}"))


def _told(risk: Estimate) -> tuple[float, float, float] | None:
    return None if risk.value is None else (_rounded(risk.value), _rounded(risk.lower), _rounded(risk.upper))


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
