"""The order list with its reasons, and a ledger that always adds up."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.vocabulary import MovementKind, TapEnd
from shopfloor.services.catalogue.tap_types import add_tap_type, tap_type_codes
from shopfloor.services.crib.orders import Stand, ledger, order_list
from shopfloor.services.crib.tap_history import find_taps, tap_history
from shopfloor.services.ledger.movements import book_box, move_tap, people, receive
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Job, Tap, TapType
from tests.factories import Shop
from tests.services.conftest import ON_BOTH
from tests.services.stock import M8, balance, count, delivery, line, move, used_taps
from tests.statements import statements_to


def old_log(shop: Shop, days: int = 100) -> None:
    """Let the log begin so many days ago, with a tap of another type."""
    log_run(shop.work, shop.entry(tap="B1", job="J3", ended_at=shop.clock() - timedelta(days=days)))


@ON_BOTH
def test_the_past_use_tells_what_to_order_where_nothing_is_planned(shop: Shop) -> None:
    """9 new taps in 90 days are 2.1 in the 21 days of lead time and review; 5 cover 95 %, so 4 are ordered on 1."""
    with shop.work.write() as session:
        for job in session.scalars(select(Job)).unique():
            job.is_open = False
    old_log(shop)
    receive(shop.work, delivery(10), "bo")
    used_taps(shop, *range(300, 390, 10))
    found = line(shop)
    assert (1, 4, Stand.ORDER, Decimal(72)) == (found.shelf.on_hand, found.quantity, found.stand, found.cost)
    assert found.reason == (
        "1 in the crib; about 2.1 will be used in 21 days (as in the last 90 days; the planned jobs ask for 0.0); "
        "5 cover 95 % of such waits: order 4"
    )


@pytest.mark.parametrize(("days_old", "days"), [(1, 30), (45, 45), (400, 90)])
def test_a_young_log_is_not_taken_for_an_old_one(shop: Shop, days_old: int, days: int) -> None:
    """9 new taps in the 45 days since the log began are 4.2 in 21 days, not 2.1; a log of a day counts as 30 days."""
    with shop.work.write() as session:
        for job in session.scalars(select(Job)).unique():
            job.is_open = False
    old_log(shop, days_old)
    receive(shop.work, delivery(10), "bo")
    used_taps(shop, *range(300, 390, 10))
    found = line(shop).need
    assert days == found.past_days
    assert pytest.approx(9 * 21 / days) == found.past_taps


@ON_BOTH
def test_planned_jobs_count_with_the_holes_that_are_left(shop: Shop) -> None:
    """3,000 holes are planned in 9 days, 240 are done: the reason names the 2,760 that are left."""
    receive(shop.work, delivery(20), "bo")
    used_taps(shop, 70, 80, 90)
    with shop.work.write() as session:
        for job in session.scalars(select(Job)).unique():
            job.is_open, job.planned_quantity = job.code == "J1", 750
    found = line(shop)
    assert found.need.is_planned
    assert 2760 == found.need.planned_holes
    assert "planned: 2,760 holes at" in found.reason
    assert found.need.level == found.shelf.on_hand + found.quantity


def test_a_job_without_a_planned_speed_counts_at_the_speed_it_ran(shop: Shop) -> None:
    """Its runs' mean speed finds the lives; the means of both databases serve."""
    receive(shop.work, delivery(20), "bo")
    used_taps(shop, 70, 80, 90)
    with shop.work.write() as session:
        for job in session.scalars(select(Job)).unique():
            job.is_open, job.planned_quantity, job.planned_rpm = job.code == "J1", 750, None
    assert 2760 == line(shop).need.planned_holes


def test_a_job_due_after_the_delivery_can_wait(shop: Shop) -> None:
    """What is due in 60 days is not ordered today."""
    receive(shop.work, delivery(20), "bo")
    used_taps(shop, 70, 80, 90)
    with shop.work.write() as session:
        for job in session.scalars(select(Job)).unique():
            job.planned_quantity, job.due_on = 750, (shop.clock() + timedelta(days=60)).date()
    assert 0 == line(shop).need.planned_holes


def test_without_a_life_nothing_is_foretold(sqlite_shop: Shop) -> None:
    """No tap of the type was ever used: no use is expected, and one on the shelf is enough."""
    receive(sqlite_shop.work, delivery(1), "bo")
    found = line(sqlite_shop)
    assert Stand.ENOUGH is found.stand
    assert "no use is expected in 21 days" in found.reason


def test_a_type_that_was_never_booked_must_be_counted_first(sqlite_shop: Shop) -> None:
    """A log brought in tells nothing of the box: no order is made up."""
    found = line(sqlite_shop)
    assert (Stand.COUNT, 0) == (found.stand, found.quantity)
    assert "count the box first" in found.reason


def test_a_tap_in_hand_is_never_refused_but_the_box_must_then_be_counted(shop: Shop) -> None:
    """Fitted without ever being received: the ledger goes below nothing and says what to do."""
    fit_new_tap(shop.work, M8, "arm", "ada")
    assert -1 == balance(shop)
    assert Stand.COUNT is line(shop).stand
    count(shop, 4)
    assert 4 == balance(shop)
    assert Stand.COUNT is not line(shop).stand


def test_more_than_is_there_cannot_be_scrapped_out_of_the_box(shop: Shop) -> None:
    """Three are booked: four cannot leave, and nothing is written."""
    receive(shop.work, delivery(3), "bo")
    with pytest.raises(Conflict, match="count the box first"):
        book_box(shop.work, uuid.uuid4(), M8, MovementKind.SCRAPPED, 4, "bo")
    assert 3 == balance(shop)


@pytest.mark.parametrize("number", [0, -1, 1001, 10**9])
def test_a_delivery_of_an_impossible_size_is_refused(sqlite_shop: Shop, number: int) -> None:
    """The message names the number."""
    with pytest.raises(InputError, match="number"):
        receive(sqlite_shop.work, delivery(number), "bo")


def test_a_delivery_sent_twice_is_booked_once(shop: Shop) -> None:
    """A repeat changes nothing, whether the taps are marked or not."""
    for sent in (delivery(5), delivery(2, codes=("N1", "N2")), delivery(3, holes_before=None)):
        before = balance(shop)
        for _ in range(2):
            receive(shop.work, sent, "bo")
        assert before + sent.number == balance(shop)


def test_used_taps_are_given_codes(shop: Shop) -> None:
    """Only a tap with a code can have a past: nobody knows the holes on these two."""
    codes = receive(shop.work, delivery(2, holes_before=None), "bo")
    assert 2 == len(set(codes))
    assert [None, None] == [tap_history(shop.work, code).present.entry for code in codes]


def test_a_code_that_is_taken_undoes_the_whole_delivery(shop: Shop) -> None:
    """Of two taps one has the code of another: neither is booked."""
    with pytest.raises(InputError, match="taken"):
        receive(shop.work, delivery(2, codes=("N1", "T1")), "bo")
    assert 0 == balance(shop)
    assert [] == find_taps(shop.work, "N1")


@ON_BOTH
def test_a_tap_goes_out_and_comes_back(shop: Shop) -> None:
    """Received, issued, from station to station, returned: the crib has it, not, still not, again."""
    receive_tap(shop.work, "N1", M8, "bo")
    steps: list[tuple[Callable[[], None], int]] = [
        (partial(fit_tap, shop.work, "N1", "arm", "ada"), 0),
        (partial(fit_tap, shop.work, "N1", "air", "ada"), 0),
        (partial(move_tap, shop.work, uuid.uuid4(), "N1", MovementKind.RETURNED, "ada"), 1),
    ]
    for step, expected in steps:
        shop.clock.move(minutes=1)
        step()
        assert expected == balance(shop)


def test_a_tap_used_without_being_issued_is_counted_once_when_it_returns(shop: Shop) -> None:
    """A run put it into the station, no movement did: coming back it is not in the crib twice."""
    receive_tap(shop.work, "N1", M8, "bo")
    shop.clock.move(minutes=1)
    log_run(shop.work, shop.entry(tap="N1"))
    move(shop, "N1", MovementKind.RETURNED)
    assert 1 == balance(shop)


def test_a_tap_lost_out_of_the_crib_leaves_the_stock(shop: Shop) -> None:
    """Lost in the crib: one less. Lost at a station: it had left already."""
    for code in ("N1", "N2"):
        receive_tap(shop.work, code, M8, "bo")
    shop.clock.move(minutes=1)
    fit_tap(shop.work, "N2", "arm", "ada")
    for code in ("N1", "N2"):
        move(shop, code, MovementKind.LOST)
    assert 0 == balance(shop)
    assert ["lost", "lost"] == [tap_history(shop.work, code).place for code in ("N1", "N2")]


def test_a_regrind_brings_the_tap_back_into_the_crib(shop: Shop) -> None:
    """Worn, away, back: a new life with one more regrind, and one more ready tap."""
    receive_tap(shop.work, "N1", M8, "bo")
    log_run(shop.work, shop.entry(tap="N1", holes=200, tap_end=TapEnd.WORN))
    move(shop, "N1", MovementKind.SENT_TO_REGRIND)
    assert ("away for regrinding", 0) == (tap_history(shop.work, "N1").place, balance(shop))
    move(shop, "N1", MovementKind.REGROUND)
    history = tap_history(shop.work, "N1")
    assert ("in the crib", 1, 1) == (history.place, history.present.number, balance(shop))


def test_a_broken_tap_cannot_be_reground_and_nothing_is_booked(shop: Shop) -> None:
    """The message says how the tap stands."""
    log_run(shop.work, shop.entry(tap="T1", tap_end=TapEnd.BROKEN))
    for kind in (MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND, MovementKind.RETURNED, MovementKind.LOST):
        with pytest.raises(Conflict, match="broken"):
            move(shop, "T1", kind)
    assert () == tap_history(shop.work, "T1").movements


@ON_BOTH
def test_one_id_is_one_movement(shop: Shop) -> None:
    """Sent twice it is stored once; another movement under the same id is refused."""
    log_run(shop.work, shop.entry(tap="T1"))
    id_ = uuid.uuid4()
    shop.clock.move(minutes=1)
    for _ in range(2):
        move_tap(shop.work, id_, "T1", MovementKind.RETURNED, "bo")
    assert 1 == len(tap_history(shop.work, "T1").movements)
    with pytest.raises(Conflict, match="another movement"):
        move_tap(shop.work, id_, "T1", MovementKind.LOST, "bo")


def test_the_ledger_of_an_unknown_type_is_not_found(sqlite_shop: Shop) -> None:
    """There is nothing to show."""
    with pytest.raises(NotFound):
        ledger(sqlite_shop.work, "M99")


@ON_BOTH
def test_a_tap_type_is_added_once(shop: Shop) -> None:
    """The second of the same code, in other letters, is refused."""
    assert "M5 SP" == add_tap_type(shop.work, {"code": "M5 SP", "thread": "M5", "unit_cost": "8,40"})
    assert "M5 SP" in tap_type_codes(shop.work)
    with pytest.raises(InputError, match="taken"):
        add_tap_type(shop.work, {"code": "m5 sp", "thread": "M5"})


def test_the_order_list_asks_as_often_for_many_types_as_for_few(sqlite_shop: Shop) -> None:
    """Ten more tap types, received and used, cost not one statement more."""
    used_taps(sqlite_shop, 100, 200, 300)
    with statements_to(sqlite_shop.work.engine) as few:
        order_list(sqlite_shop.work)
    for n in range(10):
        code = add_tap_type(sqlite_shop.work, {"code": f"M8 no. {n}", "thread": "M8", "unit_cost": "9"})
        tap = receive_tap(sqlite_shop.work, None, code, "bo")
        log_run(sqlite_shop.work, sqlite_shop.entry(tap=tap))
    with statements_to(sqlite_shop.work.engine) as many:
        assert 12 == len(order_list(sqlite_shop.work).lines)
    assert len(few) == len(many)


def test_the_keepers_of_the_crib_are_offered_first(sqlite_shop: Shop) -> None:
    """Bo keeps the crib."""
    assert [("bo", "Bo L."), ("ada", "Ada K.")] == people(sqlite_shop.work)


IN_HAND = ("receive", "receive marked", "fit", "run", "break", "wear", "take off", "send", "back", "lose", "scrap")
STEPS = (*IN_HAND, "fit new", "count", "scrap box")
FEW = settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])


def sequences(steps: tuple[str, ...]) -> st.SearchStrategy[list[tuple[str, int]]]:
    """What may happen in a crib: steps, each with a small number."""
    return st.lists(st.tuples(st.sampled_from(steps), st.integers(0, 3)), max_size=14)


@FEW
@given(sequences(STEPS))
def test_the_ledger_always_adds_up(sqlite_shop: Shop, steps: list[tuple[str, int]]) -> None:
    """After any sequence: each balance is the one before plus the change, and the last is the sum of all."""
    for step, n in steps:
        sqlite_shop.clock.move(minutes=1)
        _try(sqlite_shop, step, n)
    found = ledger(sqlite_shop.work, M8)
    total = 0
    for one in reversed(found.lines):
        total += one.quantity
        assert total == one.balance
    assert total == found.balance == sum(found.sums.values()) == line(sqlite_shop).shelf.on_hand


@FEW
@given(sequences(IN_HAND))
def test_marked_taps_are_in_the_crib_at_most_once(sqlite_shop: Shop, steps: list[tuple[str, int]]) -> None:
    """Where every tap that is fitted was received and nobody counts fewer, the ledger never falls below nothing."""
    for step, n in steps:
        sqlite_shop.clock.move(minutes=1)
        _try(sqlite_shop, step, n)
        assert balance(sqlite_shop) >= 0


def _try(shop: Shop, step: str, n: int) -> None:
    """Take one step with one of the shop's marked taps; what the shop refuses is left out."""
    with shop.work.read() as session:
        kind = select(TapType.id).where(TapType.code == M8).scalar_subquery()
        codes = list(
            session.scalars(select(Tap.code).where(Tap.tap_type_id == kind, ~Tap.code.in_(["T1", "T2", "T3"])))
        )
    tap = codes[n % len(codes)] if codes else "T9999"
    id_, work = uuid.uuid4(), shop.work
    actions: dict[str, Callable[[], object]] = {
        "receive": lambda: receive(work, delivery(n + 1), "bo"),
        "receive marked": lambda: receive_tap(work, None, M8, "bo"),
        "fit new": lambda: fit_new_tap(work, M8, "arm", "ada"),
        "fit": lambda: fit_tap(work, tap, ("arm", "air")[n % 2], "ada"),
        "run": lambda: log_run(work, shop.entry(tap=tap, holes=10 + n)),
        "break": lambda: log_run(work, shop.entry(tap=tap, holes=10, tap_end=TapEnd.BROKEN)),
        "wear": lambda: log_run(work, shop.entry(tap=tap, holes=10, tap_end=TapEnd.WORN)),
        "take off": lambda: move_tap(work, id_, tap, MovementKind.RETURNED, "ada"),
        "send": lambda: move_tap(work, id_, tap, MovementKind.SENT_TO_REGRIND, "bo"),
        "back": lambda: move_tap(work, id_, tap, MovementKind.REGROUND, "bo"),
        "lose": lambda: move_tap(work, id_, tap, MovementKind.LOST, "bo"),
        "scrap": lambda: move_tap(work, id_, tap, MovementKind.SCRAPPED, "bo"),
        "count": lambda: book_box(work, id_, M8, MovementKind.COUNTED, n, "bo"),
        "scrap box": lambda: book_box(work, id_, M8, MovementKind.SCRAPPED, n, "bo"),
    }
    try:
        actions[step]()
    except InputError:
        return
