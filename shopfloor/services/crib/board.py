"""The crib's board: which taps in service are due, by risk in the next batch and holes left to the change."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.decision.when_to_change import Action, undecided
from shopfloor.core.errors import InputError, Problem
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Word
from shopfloor.services.advice.life_book import NO_EVIDENCE, Advice, LifeBook
from shopfloor.services.advice.outlook import Outlook, outlook_of
from shopfloor.services.record.work import Work
from shopfloor.services.runs.batch_size import Why
from shopfloor.services.station.next_batch import (
    RUNS_LOOKED_AT,
    TYPICAL_BATCH,
    Coming,
    StationJob,
    coming_at,
    holes_foretold,
)
from shopfloor.store import Station, Tap, TapType
from shopfloor.store.queries.fitted import FittedTap, PastRun, fitted_taps, last_runs_by_place, last_runs_by_tap
from shopfloor.store.queries.log import cutting_conditions

UNKNOWN_HOLES = phrase("Nobody knows how many holes were on it when it was first logged")
NO_RUN = phrase("No run yet, neither with this tap nor with another of its type at this station")


class Advise(Protocol):
    """Advice for taps under the same conditions."""

    def __call__(self, cutting: CuttingConditions, hole: HoleConditions, *, is_reground: bool) -> Advice:
        """Advice for a tap under these conditions."""


class Order(Word):
    """What the board is sorted by."""

    RISK = "risk", "Chance of a break"
    CHANGE = "change", "Holes left"


@dataclass(frozen=True)
class NextBatch:
    """The next batch; `is_own`: the last runs that predict it were made by the tap itself.

    `why`: where its number of holes comes from, as on the station page; None: it is the mean of those runs.
    """

    cutting: CuttingConditions
    hole: HoleConditions
    job: str | None
    part: str | None
    material: str
    rpm: int
    holes: int
    why: Why | None
    runs: int
    is_own: bool


@dataclass(frozen=True)
class TapInUse:
    """One tap of the board. `holes` None: unknown; `logged_holes` are those in the log."""

    code: str
    tap_type: str
    station: str | None
    regrinds: int
    holes: int | None
    logged_holes: int
    next_batch: NextBatch | None
    outlook: Outlook

    @property
    def holes_left(self) -> int | None:
        """Holes left until the suggested change, 0 or below once it is due; None if none is suggested."""
        return self.outlook.decision.left


@dataclass(frozen=True)
class Board:
    """The taps of one station or of all, in the requested order, and how many there are of each decision.

    `has_log` False: there is no tap on record yet, in use or not.
    """

    taps: tuple[TapInUse, ...]
    stations: tuple[str, ...]
    level: float
    has_log: bool

    @property
    def as_of(self) -> datetime | None:
        """When the estimates were worked out; None: from the log as it is now."""
        return next((tap.outlook.as_of for tap in self.taps if tap.outlook.as_of is not None), None)

    @property
    def counts(self) -> dict[Action, int]:
        """Number of taps for each action, including those with none."""
        found = Counter(tap.outlook.decision.action for tap in self.taps)
        return {action: found[action] for action in Action}


def board(work: Work, station: str | None = None, order: str | None = None) -> Board:
    """Every tap in service, the most urgent first.

    Raises
    ------
    InputError    no such station, no such order
    """
    with work.read() as session:
        # Kept referenced, so that no station has to be loaded again for its next batch.
        places = session.scalars(select(Station).order_by(Station.code)).all()
        stations = tuple(place.code for place in places)
        by = _check(stations, station, order)
        everywhere = fitted_taps(session)
        taps = taps_in_use(work, session, [tap for tap in everywhere if station in (None, tap.station_code)])
        has_log = bool(everywhere) or session.scalar(select(Tap.id).limit(1)) is not None
    return Board(tuple(sorted(taps, key=_KEYS[by])), stations, work.settings.level, has_log)


def taps_in_use(work: Work, session: Session, fitted: Sequence[FittedTap]) -> list[TapInUse]:
    """These taps with their next batch and outlook."""
    ids = {tap.tap_type for tap in fitted}
    # Kept referenced while the book is open, so that it finds every price without another query.
    kinds = list(session.scalars(select(TapType).where(TapType.id.in_(ids))))
    book = LifeBook.open(work, session, [kind.id for kind in kinds])
    book.read([tap.tap for tap in fitted])
    advise: Advise = cache(book.advice)
    batches = _next_batches(work, session, fitted)
    return [_tap_in_use(tap, batches.get(tap.tap), advise, book) for tap in fitted]


def _check(stations: Sequence[str], station: str | None, order: str | None) -> Order:
    problems = []
    if station is not None and station not in stations:
        problems.append(
            Problem(
                "station",
                phrase("{station} is not a station of this shop", station=shown(station)),
                "choose one that is listed",
            )
        )
    if order is not None and order not in list(Order):
        problems.append(
            Problem(
                "sort",
                phrase("{order} is not a sort order", order=shown(order)),
                phrase("use one of: {order}", order=", ".join(Order)),
            )
        )
    if problems:
        raise InputError(problems)
    return next((word for word in Order if word == order), Order.RISK)


def _next_batches(work: Work, session: Session, fitted: Sequence[FittedTap]) -> dict[int, NextBatch]:
    """By tap: its next batch as its station predicts it for the job that it was last used in."""
    own = last_runs_by_tap(session, RUNS_LOOKED_AT)
    others = {} if len(own) >= len(fitted) else last_runs_by_place(session, RUNS_LOOKED_AT)
    runs = {tap.tap: own.get(tap.tap) or others.get((tap.station or 0, tap.tap_type), []) for tap in fitted}
    places = {tap.tap: (tap.station, runs[tap.tap][0].job_id) for tap in fitted if runs[tap.tap]}
    asked = {(station, job) for station, job in places.values() if station is not None and job is not None}
    found = coming_at(work, session, asked)
    return {
        tap.tap: _foretold(tap, runs[tap.tap], _known(found, *places[tap.tap]), is_own=tap.tap in own)
        for tap in fitted
        if runs[tap.tap]
    }


def _known(found: Mapping[StationJob, Coming], station: int | None, job: int | None) -> Coming | None:
    return None if station is None or job is None else found.get((station, job))


def _foretold(tap: FittedTap, runs: Sequence[PastRun], there: Coming | None, *, is_own: bool) -> NextBatch:
    last, portion = runs[0], None if there is None else there.portion
    rpm, material, name, hole = last.rpm, last.material, last.material_name, last.hole
    if there is not None:
        rpm = there.rpm or last.rpm
        material, name = there.job.material_id, there.job.material.name
        hole = there.job.hole_conditions(there.lubricant)
    return NextBatch(
        cutting_conditions(tap.tap_type, tap.thread, material, rpm), hole, last.job, last.part, name, rpm,
        holes_foretold(portion, runs), None if portion is None else portion.why, len(runs), is_own,
    )  # fmt: skip


def _tap_in_use(tap: FittedTap, batch: NextBatch | None, advise: Advise, book: LifeBook) -> TapInUse:
    holes = None if tap.entry is None else tap.holes
    if batch is None:
        outlook = _nothing_known(holes)
    else:
        advice = advise(batch.cutting, batch.hole, is_reground=tap.regrinds > 0)
        past, slips = book.past(tap.tap, tap.regrinds), book.slips(tap.tap, tap.regrinds)
        outlook = outlook_of(advice, holes, batch.holes, past, slips)
        outlook = outlook if holes is not None else replace(outlook, reason=UNKNOWN_HOLES)
    return TapInUse(tap.code, tap.type_code, tap.station_code, tap.regrinds, holes, tap.holes, batch, outlook)


def _nothing_known(holes: int | None) -> Outlook:
    return Outlook(undecided(holes, TYPICAL_BATCH), None, NO_RUN, NO_EVIDENCE, 0, 1.0)


def _by_risk(tap: TapInUse) -> tuple[int, float, str]:
    """Known probabilities first, the largest on top; then those with only an upper bound; then the others."""
    risk = tap.outlook.risk
    if risk is None:
        return 2, 0.0, tap.code
    return (1, -risk.upper, tap.code) if risk.value is None else (0, -risk.value, tap.code)


def _by_change(tap: TapInUse) -> tuple[float, tuple[int, float, str]]:
    return math.inf if tap.holes_left is None else tap.holes_left, _by_risk(tap)


_KEYS: dict[Order, Callable[[TapInUse], Any]] = {Order.RISK: _by_risk, Order.CHANGE: _by_change}
