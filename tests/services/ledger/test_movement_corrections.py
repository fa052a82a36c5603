"""Correct and cancel a stock movement: stock, tap and station agree after it, or nothing is changed."""

from __future__ import annotations

import uuid
from functools import partial
from typing import Any

import pytest

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.input.crib_entries import MoveChange
from shopfloor.core.vocabulary import GaugeResult, MovementKind, TapEnd, TapState
from shopfloor.services.crib.tap_history import TapHistory, tap_history
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.history import BookedMove
from shopfloor.services.ledger.movement_corrections import cancel_movement, correct_movement, move_history
from shopfloor.services.ledger.movements import book_box, move_tap, receive
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.record.revisions import Standing
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.station import choices
from shopfloor.store import StockMovement
from tests.factories import NOON, Shop
from tests.services.conftest import ON_BOTH
from tests.services.stock import M8, balance, count, delivery, move, used_taps

WHY = ("mistaken", "bo")


def history(shop: Shop, tap: str = "N1") -> TapHistory:
    """All that the record holds of a tap."""
    return tap_history(shop.work, tap)


def newest(shop: Shop, tap: str = "N1") -> BookedMove:
    """The newest movement of a tap that counts."""
    return next(one for one in history(shop, tap).movements if one.change is None)


def received(shop: Shop, tap: str = "N1") -> None:
    """A new tap comes into the crib."""
    shop.clock.move(minutes=1)
    receive_tap(shop.work, tap, M8, "bo")


def fitted(shop: Shop, tap: str = "N1") -> None:
    """The tap goes into arm 1."""
    shop.clock.move(minutes=1)
    fit_tap(shop.work, tap, "arm", "ada")


def run(shop: Shop, tap: str = "N1", **fields: Any) -> uuid.UUID:
    """The tap makes 48 holes."""
    shop.clock.move(minutes=1)
    return log_run(shop.work, shop.entry(tap=tap, **fields)).run_id


def cancel(shop: Shop, tap: str = "N1") -> None:
    """Cancel the tap's newest movement."""
    shop.clock.move(minutes=1)
    cancel_movement(shop.work, newest(shop, tap).id, *WHY)


def change(move: BookedMove, **fields: Any) -> MoveChange:
    """A correction of a movement, the same but for these fields."""
    return MoveChange(**{"id": uuid.uuid4(), "moved_at": move.moved_at, "note": move.note, **fields})


def box(shop: Shop, kind: MovementKind, number: int) -> uuid.UUID:
    """Book unmarked M8 taps."""
    shop.clock.move(minutes=1)
    id_ = uuid.uuid4()
    if kind is MovementKind.RECEIVED:
        receive(shop.work, delivery(number, id=id_), "bo")
    else:
        book_box(shop.work, id_, M8, kind, number, "bo")
    return id_


@ON_BOTH
def test_a_cancelled_fit_puts_the_tap_back_into_the_crib(shop: Shop) -> None:
    """The station is empty, the stock whole again; the entry stays with who, when and why."""
    received(shop)
    fitted(shop)
    assert (0, "in arm") == (balance(shop), history(shop).place)
    cancel(shop)
    told = history(shop)
    assert (1, "in the crib", None) == (balance(shop), told.place, told.in_use)
    left = told.movements[0]
    assert left.change is not None
    assert (Standing.CANCELLED, "Bo L.", "mistaken") == (left.standing, left.change.by, left.change.reason)
    assert shop.clock() == left.change.at


def test_cancelling_twice_changes_nothing(shop: Shop) -> None:
    """A second tap on the button is no second cancellation and no error."""
    received(shop)
    id_ = newest(shop).id
    cancel_movement(shop.work, id_, *WHY)
    cancel_movement(shop.work, id_, "again", "bo")
    assert 0 == balance(shop)


@pytest.mark.parametrize(
    ("kind", "state"),
    [
        (MovementKind.SCRAPPED, TapState.IN_SERVICE),
        (MovementKind.LOST, TapState.IN_SERVICE),
        (MovementKind.SENT_TO_REGRIND, TapState.IN_SERVICE),
        (MovementKind.RETURNED, TapState.IN_SERVICE),
    ],
)
def test_what_did_not_become_of_a_tap(shop: Shop, kind: MovementKind, state: TapState) -> None:
    """Without the movement the tap stands where it stood before: in its station, alive."""
    received(shop)
    fitted(shop)
    run(shop)
    move(shop, "N1", kind)
    cancel(shop)
    assert (state, "in arm", 0) == (history(shop).present.state, history(shop).place, balance(shop))


def test_a_cancelled_regrind_takes_the_new_life_away(shop: Shop) -> None:
    """The worn tap is away again, and the crib has one less."""
    received(shop)
    run(shop, tap_end=TapEnd.WORN)
    for kind in (MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND):
        move(shop, "N1", kind)
    assert (1, 1) == (history(shop).present.number, balance(shop))
    cancel(shop)
    told = history(shop)
    assert (0, TapState.WORN, "away for regrinding") == (told.present.number, told.present.state, told.place)
    assert 0 == balance(shop)


def test_the_newest_movement_goes_first(shop: Shop) -> None:
    """A tap that was never received cannot have been fitted: the refusal names the fit."""
    received(shop)
    receipt = newest(shop).id
    fitted(shop)
    with pytest.raises(Conflict, match=r"newer movement rests on it \(.* of 2026-06-01 12:02\); cancel the newest"):
        cancel_movement(shop.work, receipt, *WHY)
    cancel(shop)
    cancel_movement(shop.work, receipt, *WHY)
    assert (0, "not in the crib: its receipt was cancelled") == (balance(shop), history(shop).place)
    assert () == history(shop).possible_moves


def test_a_fit_of_a_tap_that_was_used_stays(shop: Shop) -> None:
    """First the runs, then the fit; a run's own booking goes with the run."""
    received(shop)
    fitted(shop)
    used = run(shop)
    with pytest.raises(Conflict, match=r"N1 was used since \(run of 2026-06-01 12:03\); cancel or correct the runs"):
        cancel_movement(shop.work, newest(shop).id, *WHY)
    cancel_run(shop.work, used, *WHY)
    cancel(shop)
    assert (1, "in the crib") == (balance(shop), history(shop).place)


def test_a_tap_whose_receipt_was_cancelled_is_not_offered_and_may_be_received(shop: Shop) -> None:
    """Its code is free for the tap that bears it, of the same type."""
    received(shop)
    offered = partial(choices.taps, shop.work, "arm", "J1", 250, None, 10)
    assert "N1" in [tap.code for tap in offered().used]
    cancel(shop)
    assert "N1" not in [tap.code for tap in offered().used]
    with pytest.raises(InputError, match="'N1' is taken"):
        receive_tap(shop.work, "N1", "1/2-13 SP", "bo")
    shop.clock.move(minutes=1)
    receive_tap(shop.work, "N1", M8, "bo", holes_before=30)
    assert (1, "in the crib", 30) == (balance(shop), history(shop).place, history(shop).present.entry)
    with pytest.raises(InputError, match="'N1' is taken"):
        receive_tap(shop.work, "N1", M8, "bo")


def test_a_tap_from_the_box_goes_back_into_it(shop: Shop) -> None:
    """Fitted by mistake: counted among the unmarked again."""
    box(shop, MovementKind.RECEIVED, 5)
    tap = fit_new_tap(shop.work, M8, "arm", "ada")
    assert 4 == balance(shop)
    cancel(shop, tap)
    assert (5, "not booked into the crib") == (balance(shop), history(shop, tap).place)


def test_stock_is_never_less_than_nothing(shop: Shop) -> None:
    """Four of five were scrapped: the delivery of five was at least that; cancelled newest first it can go."""
    came = box(shop, MovementKind.RECEIVED, 5)
    gone = box(shop, MovementKind.SCRAPPED, 4)
    for action in (
        partial(cancel_movement, shop.work, came),
        partial(correct_movement, shop.work, came, MoveChange(uuid.uuid4(), shop.clock.now, number=3)),
    ):
        with pytest.raises(Conflict, match=r"would have had -\d taps on 2026-06-01 12:02; cancel what left the crib"):
            action(*WHY)
    assert 1 == balance(shop)
    cancel_movement(shop.work, gone, *WHY)
    cancel_movement(shop.work, came, *WHY)
    assert 0 == balance(shop)


@ON_BOTH
def test_what_was_counted_since_stays_true(shop: Shop) -> None:
    """A count settled the stock: it is cancelled before what lies before it."""
    came = box(shop, MovementKind.RECEIVED, 5)
    counted = box(shop, MovementKind.COUNTED, 7)
    with pytest.raises(Conflict, match=r"counted since \(2026-06-01 12:02\), which settled the stock; cancel that"):
        cancel_movement(shop.work, came, *WHY)
    assert 7 == balance(shop)
    cancel_movement(shop.work, counted, *WHY)
    assert 5 == balance(shop)


def test_a_count_of_taps_that_were_never_booked_in_can_be_cancelled(shop: Shop) -> None:
    """The ledger is then again what was booked: two were taken, none came."""
    used_taps(shop, 100, 100)
    count(shop, 7)
    counted = move_of_box(shop)
    cancel_movement(shop.work, counted, *WHY)
    assert -2 == balance(shop)


def move_of_box(shop: Shop) -> uuid.UUID:
    """The only movement of unmarked taps."""
    with shop.work.read() as session:
        return session.query(StockMovement).filter(StockMovement.tap_id.is_(None)).one().id


def test_a_count_that_settled_a_taken_tap_stays(shop: Shop) -> None:
    """A run logged late took a tap before the count, which counted another in its place: count again instead."""
    received(shop)
    taken_at = shop.clock.now.replace(second=30)
    shop.clock.move(minutes=5)
    count(shop, 1)
    counted = move_of_box(shop)
    shop.clock.move(minutes=1)
    log_run(shop.work, shop.entry(tap="N1", ended_at=taken_at))
    assert 1 == balance(shop)
    with pytest.raises(Conflict, match=r"a tap taken on 2026-06-01 12:01 was booked out by it; count the box again"):
        cancel_movement(shop.work, counted, *WHY)


@ON_BOTH
@pytest.mark.parametrize(
    ("kind", "number", "left"),
    [(MovementKind.RECEIVED, 7, 17), (MovementKind.SCRAPPED, 4, 6), (MovementKind.COUNTED, 4, 4)],
)
def test_a_number_is_corrected(shop: Shop, kind: MovementKind, number: int, left: int) -> None:
    """Of ten taps: seven more came, four left, or there were four."""
    box(shop, MovementKind.RECEIVED, 10)
    id_ = box(shop, kind, 3)
    assert 3 == move_history(shop.work, id_).number
    shop.clock.move(minutes=1)
    new = change(move_history(shop.work, id_).move, number=number)
    correct_movement(shop.work, id_, new, *WHY)
    correct_movement(shop.work, id_, new, *WHY)
    assert left == balance(shop)
    told = move_history(shop.work, new.id)
    assert [Standing.CORRECTED, Standing.SAVED] == [version.standing for version in told.versions]
    assert number == told.number


@pytest.mark.parametrize(("kind", "number"), [(MovementKind.RECEIVED, 0), (MovementKind.COUNTED, 1001)])
def test_a_number_out_of_range(sqlite_shop: Shop, kind: MovementKind, number: int) -> None:
    """Is refused by name."""
    id_ = box(sqlite_shop, kind, 3)
    new = change(move_history(sqlite_shop.work, id_).move, number=number)
    with pytest.raises(InputError, match="is out of range; give a number from"):
        correct_movement(sqlite_shop.work, id_, new, *WHY)


def test_a_fit_is_corrected_to_another_station(shop: Shop) -> None:
    """The tap is in the air arm, since ten minutes."""
    received(shop)
    shop.clock.move(minutes=10)
    fitted(shop)
    old = newest(shop)
    new = change(old, station="air", note="second shift", moved_at=old.moved_at.replace(minute=5))
    correct_movement(shop.work, old.id, new, *WHY)
    told = newest(shop)
    assert ("in air", 0) == (history(shop).place, balance(shop))
    assert ("air", "second shift", 5) == (told.station, told.note, told.moved_at.minute)
    with pytest.raises(InputError, match="station: 'moon' is not a station"):
        correct_movement(shop.work, told.id, change(told, station="moon"), *WHY)


def test_a_movement_does_not_pass_another_entry_of_its_tap(shop: Shop) -> None:
    """Neither a run, nor a check, nor a movement; the refusal names the first one between."""
    received(shop)
    receipt = newest(shop)
    fitted(shop)
    fit = newest(shop)
    run(shop)
    shop.clock.move(minutes=1)
    record_gauge_check(shop.work, uuid.uuid4(), "N1", GaugeResult.PASSED, "bo")
    for moved, to in ((receipt, 2), (receipt, 9), (fit, 3), (fit, 4), (fit, 1)):
        with pytest.raises(Conflict, match=r"another entry of the tap lies between \(2026-06-01 12:0[123]\)"):
            correct_movement(shop.work, moved.id, change(moved, moved_at=NOON.replace(minute=to)), *WHY)


def test_a_corrected_fit_that_a_run_told_still_goes_with_the_run(shop: Shop) -> None:
    """The note was put right; the run is cancelled, and with it the booking."""
    received(shop)
    used = run(shop)
    fit = newest(shop)
    correct_movement(shop.work, fit.id, change(fit, note="fitted by Ada"), *WHY)
    assert 0 == balance(shop)
    shop.clock.move(minutes=1)
    cancel_run(shop.work, used, *WHY)
    assert (1, "in the crib") == (balance(shop), history(shop).place)


def test_what_was_changed_already_is_not_changed_again(shop: Shop) -> None:
    """The newest entry is the one to change; an id is used once."""
    received(shop)
    old = newest(shop)
    new = change(old, note="blue box")
    correct_movement(shop.work, old.id, new, *WHY)
    for action in (
        partial(cancel_movement, shop.work, old.id),
        partial(correct_movement, shop.work, old.id, change(old)),
    ):
        with pytest.raises(Conflict, match="in the meantime; open the newest entry"):
            action(*WHY)
    with pytest.raises(Conflict, match="used by another movement"):
        correct_movement(shop.work, new.id, change(old, id=old.id), *WHY)


@pytest.mark.parametrize(
    ("reason", "by", "told"), [(" ", "bo", "reason: it is missing"), ("so", "eve", "is not a person")]
)
def test_who_and_why_are_asked(sqlite_shop: Shop, reason: str, by: str, told: str) -> None:
    """Neither a correction nor a cancellation goes without."""
    received(sqlite_shop)
    old = newest(sqlite_shop)
    for action in (
        partial(cancel_movement, sqlite_shop.work, old.id),
        partial(correct_movement, sqlite_shop.work, old.id, change(old)),
    ):
        with pytest.raises(InputError, match=told):
            action(reason, by)
    assert 1 == len(history(sqlite_shop).movements)


def test_a_movement_that_is_not_there(sqlite_shop: Shop) -> None:
    """Is said not to be there."""
    nothing, new = uuid.uuid4(), MoveChange(uuid.uuid4(), NOON)
    for action in (
        partial(move_history, sqlite_shop.work, nothing),
        partial(cancel_movement, sqlite_shop.work, nothing, *WHY),
        partial(correct_movement, sqlite_shop.work, nothing, new, *WHY),
    ):
        with pytest.raises(NotFound):
            action()


def test_a_tap_taken_off_by_mistake_is_back_in_its_station(shop: Shop) -> None:
    """The board has it in use again."""
    received(shop)
    fitted(shop)
    shop.clock.move(minutes=1)
    move_tap(shop.work, uuid.uuid4(), "N1", MovementKind.RETURNED, "bo")
    assert (1, None) == (balance(shop), history(shop).in_use)
    cancel(shop)
    assert 0 == balance(shop)
    assert history(shop).in_use is not None
