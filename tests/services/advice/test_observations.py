"""Observations are worked out anew for those tap types alone whose lives went on."""

from __future__ import annotations

from collections.abc import Iterable

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.services.advice import log_state
from shopfloor.services.advice.observations import Observations
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Tap
from shopfloor.store.queries.lives import Gathered
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

Found = dict[CuttingConditions, Gathered]


def used(shop: Shop, tap: str, job: str = "J1") -> None:
    """A batch more on a tap."""
    shop.clock.move(minutes=5)
    log_run(shop.work, shop.entry(tap=tap, job=job, holes=60))


def told(shop: Shop, *asked: Iterable[int] | None) -> list[Found]:
    """What pages get that ask for these tap types, one after the other; None for all."""
    with shop.work.read() as session:
        pool = log_state.LogPosterior(session)
        return [dict(pool.gathered(session, None if one is None else list(one), 1000.0)) for one in asked]


def anew(shop: Shop, tap_types: Iterable[int]) -> Found:
    """The same, nothing being known from before."""
    with shop.work.read() as session:
        return Observations(list(tap_types), {}, None).of(session, None, 1000.0)


def two_tap_types(shop: Shop) -> tuple[int, int]:
    """A tap of each has made holes."""
    keys = []
    for tap, job in (("T1", "J1"), ("B1", "J3")):
        used(shop, tap, job)
        with shop.work.read() as session:
            row = find_in(session, Tap, tap)
            assert row is not None
            keys.append(row.tap_type_id)
    return keys[0], keys[1]


def of_type(found: Found, tap_type: int) -> Found:
    """What belongs to one tap type."""
    return {cutting: one for cutting, one in found.items() if cutting.tap_type == tap_type}


def test_a_page_that_asks_for_some_gets_what_one_that_asks_for_all_gets(shop: Shop) -> None:
    """In either order, and as if read for the first time."""
    first, second = two_tap_types(shop)
    some, everything, other = told(shop, [first], None, [second, 10**6])
    assert some == of_type(everything, first)
    assert other == of_type(everything, second)
    assert everything == anew(shop, [first, second])
    assert len(some) >= 3
    assert some.keys().isdisjoint(other.keys())


@ON_BOTH
def test_only_the_tap_type_in_use_is_gathered_again(shop: Shop) -> None:
    """The others' observations are the same objects, also after a state in which nobody asked for them."""
    first, second = two_tap_types(shop)
    (before,) = told(shop, None)
    used(shop, "T2")
    told(shop, [first])
    used(shop, "T2")
    (after,) = told(shop, None)
    assert all(after[cutting] is one for cutting, one in of_type(before, second).items())
    whole = CuttingConditions(first)
    assert (before[whole].lives, after[whole].lives) == (1, 2)
    assert after == anew(shop, [first, second])
