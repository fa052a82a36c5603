"""Unmarked taps in the crib: delivered, counted, used and looked up."""

from __future__ import annotations

import uuid

from shopfloor.core.input.crib_entries import Delivery
from shopfloor.core.vocabulary import MovementKind, TapEnd
from shopfloor.services.crib.orders import OrderLine, ledger, order_list
from shopfloor.services.ledger.movements import book_box, move_tap
from shopfloor.services.ledger.taps import fit_new_tap
from shopfloor.services.runs.runs import log_run
from tests.factories import Shop

M8 = "M8 SP"


def delivery(number: int = 10, **changes: object) -> Delivery:
    """A delivery of unmarked M8 taps."""
    values: dict[str, object] = {"id": uuid.uuid4(), "tap_type": M8, "number": number}
    return Delivery(**{**values, **changes})  # type: ignore[arg-type]


def count(shop: Shop, number: int) -> None:
    """Count the M8 taps in the crib."""
    shop.clock.move(minutes=1)
    book_box(shop.work, uuid.uuid4(), M8, MovementKind.COUNTED, number, "bo")


def move(shop: Shop, tap: str, kind: MovementKind) -> None:
    """Book one tap's movement a minute later."""
    shop.clock.move(minutes=1)
    move_tap(shop.work, uuid.uuid4(), tap, kind, "bo")


def used_taps(shop: Shop, *ages: int) -> None:
    """Take new M8 taps out of the box and use them until they break at those holes."""
    for age in ages:
        shop.clock.move(hours=1)
        tap = fit_new_tap(shop.work, M8, "arm", "ada")
        shop.clock.move(hours=1)
        log_run(shop.work, shop.entry(tap=tap, holes=age, tap_end=TapEnd.BROKEN, broke_at_hole=age))


def line(shop: Shop) -> OrderLine:
    """The order list's line for M8 taps."""
    return next(line for line in order_list(shop.work).lines if line.shelf.code == M8)


def balance(shop: Shop) -> int:
    """M8 taps in the crib by the ledger."""
    return ledger(shop.work, M8).balance
