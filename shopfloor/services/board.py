"""The crib's board: which taps in use are due, by their risk in the next batch and the holes left to the change."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.circumstances import Circumstances
from shopfloor.core.cutting import speed_band
from shopfloor.core.errors import InputError, Problem
from shopfloor.core.intervals import Estimate
from shopfloor.core.observations import Evidence
from shopfloor.core.phrases import phrase
from shopfloor.core.pool.slip_evidence import NO_SLIPS, SlipEvidence
from shopfloor.core.reading import shown
from shopfloor.core.vocabulary import Word
from shopfloor.services.advice import NO_EVIDENCE, Advice, LifeBook
from shopfloor.services.outlook import Length, length_of
from shopfloor.services.pooled import Past
from shopfloor.services.work import Work
from shopfloor.store import Station, Tap, TapType
from shopfloor.store.queries.fitted import FittedTap, PastRun, fitted_taps, last_runs_by_place, last_runs_by_tap
from shopfloor.store.queries.lives import Situation
from shopfloor.store.queries.log import diameter_of

RUNS_LOOKED_AT = 5
"""The next batch is taken to be as large as the mean of so many last runs. Common practice, no source."""

UNKNOWN_HOLES = phrase("Nobody knows how many holes were on it when it was first logged")
NO_RUN = phrase("No run yet, neither with this tap nor with another of its type at this station")


class Advise(Protocol):
    """Advice for taps of a situation, in holes of one kind."""

    def __call__(
        self, situation: Situation, holes: Circumstances, *, is_reground: bool, depth_mm: float | None
    ) -> Advice:
        """Advice for a tap in this situation."""


class Verdict(Word):
    """What the crib should do about a tap in use, most urgent first."""

    CHANGE_NOW = "change now", "Change now"
    NEXT_BATCH = "change during next batch", "Change during next batch"
    NOT_KNOWN = "not known", "Not known"
    GOOD = "good for now", "Good for now"
    RUN_ON = "run on", "Run on"
    """Nothing is gained by changing it early, however likely it is to fail."""


class Order(Word):
    """By what the board is sorted."""

    RISK = "risk", "Chance of a break"
    CHANGE = "change", "Holes left"


@dataclass(frozen=True)
class NextBatch:
    """The batch that comes next as the last runs foretell it; `is_own`: they were made by the tap itself."""

    situation: Situation
    circumstances: Circumstances
    depth_mm: float | None
    job: str | None
    part: str | None
    material: str
    rpm: int
    speed_band: str
    holes: int
    runs: int
    is_own: bool


@dataclass(frozen=True)
class Outlook:
    """What the log says about a tap's next holes; the risk and `change_at` are None where it cannot tell.

    `reason` says why there is no age to change at, or why the age is what it is; `evidence` is of taps used just so,
    `leaning` the share of what is known that comes from others. `length` is told where the shop counts lives so;
    `slips` are those of the tap's last holes, which the risk takes into account.
    """

    verdict: Verdict
    break_risk: Estimate | None
    change_at: int | None
    reason: str
    leaning: float
    evidence: Evidence
    saving: Estimate | None
    length: Length | None = None
    slips: SlipEvidence = NO_SLIPS


@dataclass(frozen=True)
class TapInUse:
    """One tap of the board. `holes` None: nobody knows how many are on it, `logged_holes` are those of the log."""

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
        """Holes to the suggested change, 0 or below once it is due; None where none is suggested."""
        if self.outlook.change_at is None or self.holes is None:
            return None
        return self.outlook.change_at - self.holes


@dataclass(frozen=True)
class Board:
    """The taps of one station or of all, in the order asked for, and how many there are of each verdict.

    `has_log` False: the record holds no tap yet, in use or not.
    """

    taps: tuple[TapInUse, ...]
    stations: tuple[str, ...]
    level: float
    has_log: bool

    @property
    def counts(self) -> dict[Verdict, int]:
        """Taps by verdict, every verdict named."""
        found = Counter(tap.outlook.verdict for tap in self.taps)
        return {verdict: found[verdict] for verdict in Verdict}


def board(work: Work, station: str | None = None, order: str | None = None) -> Board:
    """Every living tap in use, the most pressing first.

    Raises
    ------
    InputError    no such station, no such order
    """
    with work.read() as session:
        stations = tuple(session.scalars(select(Station.code).order_by(Station.code)))
        by = _check(stations, station, order)
        everywhere = fitted_taps(session)
        taps = taps_in_use(work, session, [tap for tap in everywhere if station in (None, tap.station_code)])
        has_log = bool(everywhere) or session.scalar(select(Tap.id).limit(1)) is not None
    return Board(tuple(sorted(taps, key=_KEYS[by])), stations, work.settings.level, has_log)


def taps_in_use(work: Work, session: Session, fitted: Sequence[FittedTap]) -> list[TapInUse]:
    """These taps with their next batch and their outlook."""
    ids = {tap.tap_type for tap in fitted}
    # Held while the book is open: it then finds every price without asking the database again.
    kinds = list(session.scalars(select(TapType).where(TapType.id.in_(ids))))
    book = LifeBook.open(work, session, [kind.id for kind in kinds])
    advise: Advise = cache(book.advice)
    batches = _next_batches(session, fitted)
    return [_tap_in_use(tap, batches.get(tap.tap), advise, book) for tap in fitted]


def verdict(holes: int | None, next_holes: int, change_at: int | None, *, is_known: bool) -> Verdict:
    """What to do about a tap with so many holes on it, before a batch of so many; `is_known`: the log can tell."""
    if holes is None or not is_known:
        return Verdict.NOT_KNOWN
    if change_at is None:
        return Verdict.RUN_ON
    if holes >= change_at:
        return Verdict.CHANGE_NOW
    return Verdict.NEXT_BATCH if holes + next_holes > change_at else Verdict.GOOD


def _check(stations: Sequence[str], station: str | None, order: str | None) -> Order:
    problems = []
    if station is not None and station not in stations:
        problems.append(
            Problem(
                "station",
                phrase("{station} is no station of this shop", station=shown(station)),
                "choose one that is listed",
            )
        )
    if order is not None and order not in list(Order):
        problems.append(
            Problem(
                "sort",
                phrase("{order} is no order", order=shown(order)),
                phrase("use one of: {order}", order=", ".join(Order)),
            )
        )
    if problems:
        raise InputError(problems)
    return next((word for word in Order if word == order), Order.RISK)


def _next_batches(session: Session, fitted: Sequence[FittedTap]) -> dict[int, NextBatch]:
    own = last_runs_by_tap(session, RUNS_LOOKED_AT)
    found = {tap.tap: _foretold(tap, own[tap.tap], is_own=True) for tap in fitted if tap.tap in own}
    if len(found) < len(fitted):
        others = last_runs_by_place(session, RUNS_LOOKED_AT)
        places = {tap.tap: (tap.station or 0, tap.tap_type) for tap in fitted if tap.tap not in found}
        found |= {
            tap.tap: _foretold(tap, others[places[tap.tap]], is_own=False)
            for tap in fitted
            if places.get(tap.tap) in others
        }
    return found


def _foretold(tap: FittedTap, runs: Sequence[PastRun], *, is_own: bool) -> NextBatch:
    last = runs[0]
    holes = math.ceil(sum(run.holes for run in runs) / len(runs))
    band = speed_band(last.rpm, diameter_of(tap.thread)).label
    situation = Situation(tap.tap_type, last.material, band)
    return NextBatch(
        situation, last.circumstances, last.depth_mm, last.job, last.part, last.material_name, last.rpm, band, holes,
        len(runs), is_own,
    )  # fmt: skip


def _tap_in_use(tap: FittedTap, batch: NextBatch | None, advise: Advise, book: LifeBook) -> TapInUse:
    holes = None if tap.entry is None else tap.holes
    if batch is None:
        outlook = NO_OUTLOOK
    else:
        advice = advise(batch.situation, batch.circumstances, is_reground=tap.regrinds > 0, depth_mm=batch.depth_mm)
        past, slips = book.past(tap.tap, tap.regrinds), book.slips(tap.tap, tap.regrinds)
        outlook = _outlook(holes, batch.holes, advice, past, slips)
    return TapInUse(tap.code, tap.type_code, tap.station_code, tap.regrinds, holes, tap.holes, batch, outlook)


def _outlook(holes: int | None, next_holes: int, advice: Advice, past: Past, slips: SlipEvidence) -> Outlook:
    change_at = advice.change_at if holes is None else advice.change_at_for(holes, past)
    return Outlook(
        verdict(holes, next_holes, change_at, is_known=advice.change is not None),
        advice.break_risk(holes, next_holes, past, slips),
        change_at,
        UNKNOWN_HOLES if holes is None else advice.reason,
        advice.leaning,
        advice.evidence,
        advice.saving,
        length_of(advice, holes, change_at, past),
        slips,
    )


def _by_risk(tap: TapInUse) -> tuple[int, float, str]:
    """Known chances first, the largest on top; then chances of which only an upper bound is known; then the others."""
    risk = tap.outlook.break_risk
    if risk is None:
        return 2, 0.0, tap.code
    return (1, -risk.upper, tap.code) if risk.value is None else (0, -risk.value, tap.code)


def _by_change(tap: TapInUse) -> tuple[float, tuple[int, float, str]]:
    return math.inf if tap.holes_left is None else tap.holes_left, _by_risk(tap)


_KEYS: dict[Order, Callable[[TapInUse], Any]] = {Order.RISK: _by_risk, Order.CHANGE: _by_change}
NO_OUTLOOK = Outlook(Verdict.NOT_KNOWN, None, None, NO_RUN, 1.0, NO_EVIDENCE, None)
