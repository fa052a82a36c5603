"""The shop at a glance: what was logged last, which taps are due, what to order, how often taps break."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.decision.when_to_change import Action
from shopfloor.services.crib.board import board
from shopfloor.services.crib.orders import Stand, order_list
from shopfloor.services.quality.breakage import Counted, Period, breakage
from shopfloor.services.record.work import Work
from shopfloor.store import Run, Station
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.output import day_of, runs_since

DAYS_COUNTED = 7


@dataclass(frozen=True)
class LastLogged:
    """The newest run that counts, and how many runs ended in the last days; `station` None: the run names none."""

    last_at: datetime
    station: str | None
    runs: int
    days: int


@dataclass(frozen=True)
class Due:
    """Taps in service and how many of them are due now, in their next batch, or of unknown due age."""

    taps: int
    now: int
    next_batch: int
    not_known: int


@dataclass(frozen=True)
class Lacking:
    """Tap types on record, how many of them to order, and how many whose box must be counted first."""

    tap_types: int
    to_order: int
    to_count: int


@dataclass(frozen=True)
class Overview:
    """What the start page shows; `broken` is None if no hole was logged in that period."""

    logged: LastLogged
    due: Due
    lacking: Lacking
    broken: Counted | None
    period: Period


def overview(work: Work) -> Overview | None:
    """The shop at a glance; None while no run counts."""
    with work.read() as session:
        logged = _logged(session, work.clock())
    if logged is None:
        return None
    broken = breakage(work, period=Period.QUARTER).total
    return Overview(logged, _due(work), _lacking(work), broken, Period.QUARTER)


def _logged(session: Session, now: datetime) -> LastLogged | None:
    query = select(Run.ended_at, Station.name).outerjoin(Station, Station.id == Run.station_id).where(counts(Run))
    last = session.execute(query.order_by(Run.ended_at.desc(), Run.position.desc()).limit(1)).one_or_none()
    if last is None:
        return None
    runs = runs_since(session, day_of(now - timedelta(DAYS_COUNTED)))
    return LastLogged(last.ended_at, last.name, runs, DAYS_COUNTED)


def _due(work: Work) -> Due:
    found = board(work)
    counted = found.counts
    in_next = sum(number for action, number in counted.items() if action.is_in_next_batch)
    return Due(len(found.taps), counted[Action.CHANGE_NOW], in_next, counted[Action.NOT_KNOWN])


def _lacking(work: Work) -> Lacking:
    found = order_list(work)
    return Lacking(len(found.lines), len(found.standing(Stand.ORDER)), len(found.standing(Stand.COUNT)))
