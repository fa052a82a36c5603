"""What to order and why, and the ledger of a tap type."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import NotFound
from shopfloor.core.floor.stock import (
    COVER,
    REVIEW_DAYS,
    USUAL_LEAD_DAYS,
    Need,
    chance_of_covering,
    need,
    order_quantity,
)
from shopfloor.core.phrases import Phrase, figure, joined, phrase, phrase_of
from shopfloor.core.vocabulary import MovementKind, Word
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.crib.planned_demand import Works, planned_works
from shopfloor.services.ledger.history import BookedMove, booked_moves, told_note
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.store import StockMovement, TapType
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.output import day_of, job_uses
from shopfloor.store.queries.stock import (
    Begun,
    LedgerLine,
    Shelf,
    ledger_lines,
    lives_begun,
    log_began,
    marked_in_crib,
    open_jobs,
    shelves,
)

PAST_DAYS = 90
"""Days of past use that predict future use. Common practice, no source."""

YOUNGEST_LOG_DAYS = 30
"""Minimum age assumed for a log: one busy first week is not the rule. Common practice, no source."""

REGRIND_DAYS = 365
"""Regrinds come in lots, so their share is taken over this many days. Common practice, no source."""


_NONE = Begun(0, 0)


class Stand(Word):
    """The state of a tap type's stock."""

    COUNT = "count the box", "Count the box"
    ORDER = "order", "Order"
    ENOUGH = "enough", "Enough"


@dataclass(frozen=True)
class OrderLine:
    """One tap type: its stock, its demand, and how many to order. `reason` is a sentence that a person can check."""

    shelf: Shelf
    need: Need
    stand: Stand
    quantity: int
    cover: float
    reason: str

    @property
    def cost(self) -> Decimal | None:
        """Price of the order, None if the type has no price."""
        return None if self.shelf.unit_cost is None else self.quantity * self.shelf.unit_cost


@dataclass(frozen=True)
class OrderList:
    """All tap types: those to order, those whose box must be counted first, those with enough stock."""

    lines: tuple[OrderLine, ...]

    def standing(self, stand: Stand) -> list[OrderLine]:
        """The lines in this state."""
        return [line for line in self.lines if line.stand is stand]

    @property
    def cost(self) -> Decimal:
        """Total of all orders with a known price."""
        return sum((line.cost or Decimal(0) for line in self.standing(Stand.ORDER)), Decimal(0))


@dataclass(frozen=True)
class Ledger:
    """The movements of one tap type, newest first, and the total of each kind that changed the stock.

    `ended` are those that no longer count, with what became of them; `bin` is where the taps are, if known.
    `marked` are the codes of those in the crib that have one.
    """

    tap_type: str
    bin: str | None
    lines: tuple[LedgerLine, ...]
    sums: Mapping[MovementKind, int]
    ended: tuple[BookedMove, ...]
    marked: tuple[str, ...]

    @property
    def unmarked(self) -> int:
        """Taps in the box by the ledger; below 0 if more were taken out than were booked in."""
        return self.balance - len(self.marked)

    @property
    def balance(self) -> int:
        """Taps that the ledger says are in the crib."""
        return self.lines[0].balance if self.lines else 0


def order_list(work: Work) -> OrderList:
    """What to order today, the most expensive shortage first."""
    now = work.clock()
    today = now.astimezone(work.settings.zone).date()
    with work.read() as session:
        kinds = list(session.scalars(select(TapType)))  # so the book finds every price
        past_days = _days_seen(session, now)
        uses = job_uses(session, day_of(now - timedelta(PAST_DAYS)))
        works = planned_works(open_jobs(session), uses, kinds, LifeBook.open(work, session))
        past = lives_begun(session, now - timedelta(PAST_DAYS))
        year = lives_begun(session, now - timedelta(REGRIND_DAYS))
        lines = [
            _line(
                shelf,
                _need(
                    Wait(days, today + timedelta(days), past_days),
                    works.get(key, []),
                    past.get(key, _NONE),
                    year.get(key, _NONE),
                ),
            )
            for shelf in shelves(session)
            for key, days in [(shelf.tap_type, _days(shelf))]
        ]
    return OrderList(tuple(sorted(lines, key=lambda line: (-line.quantity, line.shelf.code))))


def ledger(work: Work, tap_type: str) -> Ledger:
    """The ledger of one tap type.

    Raises
    ------
    NotFound    no such type
    """
    with work.read() as session:
        kind = find_in(session, TapType, tap_type)
        if kind is None:
            raise NotFound(f"no tap type {tap_type}")
        lines = [replace(line, note=told_note(line.kind, line.note)) for line in ledger_lines(session, kind.id)]
        ended = booked_moves(session, StockMovement.tap_type_id == kind.id, ~counts(StockMovement))
        marked = marked_in_crib(session, kind.id)
    sums: defaultdict[MovementKind, int] = defaultdict(int)
    for line in lines:
        sums[line.kind] += line.quantity
    changes = {kind: change for kind, change in sums.items() if change}
    return Ledger(kind.code, kind.bin, tuple(reversed(lines)), changes, tuple(ended), tuple(marked))


def _line(shelf: Shelf, need: Need) -> OrderLine:
    is_known = shelf.movements > 0 and shelf.unmarked >= 0
    quantity = order_quantity(shelf.on_hand, need.level) if is_known else 0
    stand = Stand.COUNT if not is_known else Stand.ORDER if quantity else Stand.ENOUGH
    cover = chance_of_covering(shelf.on_hand + quantity, need.taps)
    return OrderLine(shelf, need, stand, quantity, cover, _reason(shelf, need, quantity, stand))


@dataclass(frozen=True)
class Wait:
    """Days until an order can arrive, the date that is, and the number of past days that predict them."""

    days: int
    until: date
    past_days: int


def _days(shelf: Shelf) -> int:
    lead = USUAL_LEAD_DAYS if shelf.lead_time_days is None else shelf.lead_time_days
    return lead + REVIEW_DAYS


def _days_seen(session: Session, now: datetime) -> int:
    """Days of the log that predict future use: fewer than `PAST_DAYS` if the log is younger."""
    began = log_began(session)
    return PAST_DAYS if began is None else min(PAST_DAYS, max(YOUNGEST_LOG_DAYS, (now - began).days))


def _need(wait: Wait, works: Works, past: Begun, year: Begun) -> Need:
    reground = 1 - year.new / year.lives if year.lives else 0.0
    due = [work for due_on, work in works if due_on <= wait.until]
    return need(due, wait.days, reground, past.new * wait.days / wait.past_days, wait.past_days)


def _reason(shelf: Shelf, need: Need, quantity: int, stand: Stand) -> Phrase:
    if shelf.movements == 0:
        return phrase("Nothing was booked in or out yet; {use}: count the box first", use=_use(need))
    if shelf.on_hand < 0:
        return phrase(
            "More were taken out than booked in ({stock}); {use}: count the box first",
            stock=shelf.on_hand,
            use=_use(need),
        )
    if shelf.unmarked < 0:
        return phrase(
            "{stock} in the crib by the ledger, but {marked} there; {use}: count the box first",
            stock=shelf.on_hand,
            marked=_marked(shelf.marked),
            use=_use(need),
        )
    there = phrase(
        "{stock} in the crib; {use}; {level} cover {share} % of such waits",
        stock=shelf.on_hand,
        use=_use(need),
        level=need.level,
        share=round(COVER * 100),
    )
    if stand is Stand.ORDER:
        return phrase("{there}: order {quantity}", there=there, quantity=quantity)
    return phrase("{there}: enough", there=there)


def _marked(number: int) -> Phrase:
    return phrase_of(number, "{n} marked tap lies", "{n} marked taps lie", n=number)


def _use(need: Need) -> Phrase:
    """The expected use and where it comes from."""
    if need.taps == 0:
        return phrase("no use is expected in {days} days", days=need.days)
    start = phrase("about {taps} will be used in {days} days", taps=figure(f"{need.taps:.1f}"), days=need.days)
    if not need.is_planned:
        return phrase(
            "{start} (as in the last {past_days} days; the planned jobs ask for {planned})",
            start=start,
            past_days=need.past_days,
            planned=figure(f"{need.planned_new_taps:.1f}"),
        )
    lives = phrase(
        "planned: {holes} holes at {each} holes a tap",
        holes=figure(f"{need.planned_holes:,.0f}"),
        each=figure(f"{need.planned_holes / need.planned_taps:,.0f}"),
    )
    if need.reground_share:
        share = figure(f"{need.reground_share * 100:.0f}")
        lives = joined([lives, phrase("{share} % of them reground ones", share=share)])
    return phrase("{start} ({lives})", start=start, lives=lives)
