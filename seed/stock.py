"""The crib: deliveries, ready stock, issues, returns, and taps away for regrinding."""

from __future__ import annotations

import heapq
import random
from collections import deque
from dataclasses import dataclass, field

from seed.clock import SHIFT_SECONDS
from seed.journal import Journal
from seed.life import TapInHand, draw_life
from seed.rows import TapType
from seed.shop import BAD_LOT, BAD_LOT_TYPE, CRIB_KEEPER, TAP_TYPE, TAP_TYPES
from seed.truth import Truth
from shopfloor.core.vocabulary import MovementKind

_OPENING_STOCK = 8
_REORDER_LEVEL = 4
_ORDER_QUANTITY = 12
_BAD_LOT_QUANTITY = 30
_BAD_LOT_FROM_SHARE = 0.38
_RUSH_QUANTITY = 3
_USED_IN_OTHER_WORK_FIRST = 0.15
_REGRIND_WORKDAYS = 9
_WORKDAYS_PER_DAY = 5 / 7
_COUNT_EVERY_WORKDAYS = 65
_MISSING_AT_COUNT = 0.2
_DELAYED_TYPES = ("M8 spiral point North", "M6 spiral flute Delta", "3/8-16 UNC spiral point North")
_DELAYED_FOR_WORKDAYS = 30


@dataclass
class _Parcel:
    """New taps of one kind and lot, and when they came."""

    lot: str
    received_second: int
    left: int


@dataclass(order=True)
class _Arrival:
    second: int
    number: int
    kind: str = field(compare=False)
    lot: str = field(compare=False, default="")
    quantity: int = field(compare=False, default=0)
    tap: TapInHand | None = field(compare=False, default=None)


class Crib:
    """Keeps the stock of ready taps. Its clock only moves forward, so that the ledger adds up in order of time."""

    def __init__(self, rng: random.Random, truth: Truth, journal: Journal) -> None:
        self._rng, self._truth, self._journal = rng, truth, journal
        self._second = 0
        self._end = journal.clock.end_second
        self._new: dict[str, deque[_Parcel]] = {kind.code: deque() for kind in TAP_TYPES}
        self._used: dict[str, list[TapInHand]] = {kind.code: [] for kind in TAP_TYPES}
        self._arrivals: list[_Arrival] = []
        self._on_order: dict[str, int] = {kind.code: 0 for kind in TAP_TYPES}
        self._numbers = {"arrival": 0, "lot": 1000, "tap": 0}
        self._next_count = _COUNT_EVERY_WORKDAYS * SHIFT_SECONDS
        self._bad_lot_came = False
        for kind in TAP_TYPES:
            self._receive(kind.code, self._next_lot(kind), _OPENING_STOCK, "opening stock")

    def pass_time(self, second: int) -> None:
        """Receive what is due by then, and count the shelves when it is time."""
        while self._arrivals and self._arrivals[0].second <= second:
            self._arrive(heapq.heappop(self._arrivals))
        if second >= self._next_count:
            self._next_count += _COUNT_EVERY_WORKDAYS * SHIFT_SECONDS
            self._second = max(self._second, second)
            for kind in TAP_TYPES:
                self._count(kind.code)

    def issue(self, kinds: tuple[str, ...], work: tuple[str, int], station: str, person: str, second: int) -> TapInHand:
        """A ready tap of one of the kinds, handed out to a station; first one used in the same work before."""
        self.pass_time(second)
        self._second = max(self._second, second)
        code = self._rng.choice(kinds)
        tap = self._take_used(code, work) or self._take_new(code)
        self._move(MovementKind.ISSUED, code, -1, person, tap=tap.code, station=station)
        self._order_if_low(code)
        return tap

    def take_back(self, tap: TapInHand, station: str, person: str, second: int) -> None:
        """A tap comes back from a station, good for more holes."""
        self._second = max(self._second, second)
        self._used[tap.kind.code].append(tap)
        self._move(MovementKind.RETURNED, tap.kind.code, 1, person, tap=tap.code, station=station)

    def adopt(self, tap: TapInHand, station: str, person: str, second: int, holes_before: int | None) -> None:
        """Register a used tap that was not on record, and issue it."""
        self._second = max(self._second, second)
        self._journal.first_seen(tap, self._journal.clock.at(self._second), holes_before)
        note = "used, nobody knows how much" if holes_before is None else f"used, about {holes_before} holes"
        self._move(MovementKind.RECEIVED, tap.kind.code, 1, CRIB_KEEPER, tap=tap.code, note=note)
        self._move(MovementKind.ISSUED, tap.kind.code, -1, person, tap=tap.code, station=station)

    def send_to_regrind(self, tap: TapInHand, station: str, second: int) -> None:
        """A worn tap goes from its station to the grinder, and is back some days later."""
        self._journal.move(
            second, MovementKind.SENT_TO_REGRIND, tap.kind.code, 0, CRIB_KEEPER, tap=tap.code, station=station
        )
        self._expect(second + _REGRIND_WORKDAYS * SHIFT_SECONDS, tap.kind.code, tap=tap)

    def next_code(self) -> str:
        """The code for the next tap that needs one."""
        return f"T{self._next_number('tap'):04d}"

    def _take_used(self, code: str, work: tuple[str, int]) -> TapInHand | None:
        used = self._used[code]
        fitting = [tap for tap in used if tap.last_work == work or tap.holes == 0]
        if not fitting and self._rng.random() < _USED_IN_OTHER_WORK_FIRST:
            fitting = list(used)
        if fitting:
            used.remove(fitting[0])
        return fitting[0] if fitting else None

    def _take_new(self, code: str) -> TapInHand:
        if not self._new[code]:
            self._receive(code, self._next_lot(TAP_TYPE[code]), _RUSH_QUANTITY, "rush order")
        parcel = self._new[code][0]
        parcel.left -= 1
        if parcel.left == 0:
            self._new[code].popleft()
        kind = TAP_TYPE[code]
        tap = TapInHand(self.next_code(), kind, parcel.lot, 0, draw_life(self._rng, self._truth, kind))
        self._journal.first_seen(tap, self._journal.clock.at(parcel.received_second), 0)
        return tap

    def _order_if_low(self, code: str) -> None:
        kind = TAP_TYPE[code]
        is_delayed = code in _DELAYED_TYPES and self._end - self._second < _DELAYED_FOR_WORKDAYS * SHIFT_SECONDS
        if self._ready(code) + self._on_order[code] > _REORDER_LEVEL or is_delayed:
            return
        lot, quantity = self._next_lot(kind), _ORDER_QUANTITY
        if code == BAD_LOT_TYPE and not self._bad_lot_came and self._second > _BAD_LOT_FROM_SHARE * self._end:
            lot, quantity, self._bad_lot_came = BAD_LOT, _BAD_LOT_QUANTITY, True
        self._on_order[code] += quantity
        wait = int(kind.lead_time_days * _WORKDAYS_PER_DAY * SHIFT_SECONDS)
        self._expect(self._second + wait, code, lot=lot, quantity=quantity)

    def _expect(
        self, second: int, kind: str, *, lot: str = "", quantity: int = 0, tap: TapInHand | None = None
    ) -> None:
        number = self._next_number("arrival")
        heapq.heappush(self._arrivals, _Arrival(second, number, kind, lot, quantity, tap))

    def _arrive(self, arrival: _Arrival) -> None:
        self._second = max(self._second, arrival.second)
        if arrival.tap is None:
            self._on_order[arrival.kind] -= arrival.quantity
            self._receive(arrival.kind, arrival.lot, arrival.quantity, f"lot {arrival.lot}")
        else:
            self._take_reground(arrival.tap)

    def _take_reground(self, tap: TapInHand) -> None:
        tap.regrinds += 1
        tap.holes, tap.is_overdue = 0, False
        tap.hidden = draw_life(self._rng, self._truth, tap.kind)
        self._used[tap.kind.code].append(tap)
        note = f"regrind {tap.regrinds}"
        self._move(MovementKind.REGROUND, tap.kind.code, 1, CRIB_KEEPER, tap=tap.code, note=note)

    def _receive(self, code: str, lot: str, quantity: int, note: str) -> None:
        self._move(MovementKind.RECEIVED, code, quantity, CRIB_KEEPER, note=note)
        self._new[code].append(_Parcel(lot, self._second, quantity))

    def _count(self, code: str) -> None:
        parcels = self._new[code]
        is_missing = len(parcels) > 0 and parcels[-1].left > 1 and self._rng.random() < _MISSING_AT_COUNT
        if is_missing:
            parcels[-1].left -= 1
        note = f"counted {self._ready(code)}" + (", one missing" if is_missing else ", as booked")
        self._move(MovementKind.COUNTED, code, -int(is_missing), CRIB_KEEPER, note=note)

    def _ready(self, code: str) -> int:
        return sum(parcel.left for parcel in self._new[code]) + len(self._used[code])

    def _next_lot(self, kind: TapType) -> str:
        return f"{kind.supplier.removeprefix('Supplier ')[0]}-{self._next_number('lot')}"

    def _next_number(self, series: str) -> int:
        self._numbers[series] += 1
        return self._numbers[series]

    def _move(
        self,
        kind: MovementKind,
        tap_type: str,
        quantity: int,
        person: str,
        *,
        tap: str | None = None,
        station: str | None = None,
        note: str = "",
    ) -> None:
        self._second += 1
        self._journal.move(self._second, kind, tap_type, quantity, person, tap=tap, station=station, note=note)
