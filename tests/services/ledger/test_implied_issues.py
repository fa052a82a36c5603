"""A tap that a run used is not on the crib's shelf any more, whoever forgot to book it out."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from shopfloor.core.input.crib_entries import Delivery
from shopfloor.core.vocabulary import MovementKind, TapEnd
from shopfloor.services.crib.orders import ledger
from shopfloor.services.ledger.movements import book_box, move_tap, receive
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run, undo_run
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

M8 = "M8 SP"


@pytest.fixture
def stocked(shop: Shop) -> Shop:
    """The shop, with taps N1 and N2 received into the crib an hour ago."""
    receive(shop.work, Delivery(uuid.uuid4(), M8, 2, codes=("N1", "N2")), "bo")
    shop.clock.move(hours=1)
    return shop


def on_hand(shop: Shop) -> int:
    """M8 taps that the ledger has in the crib."""
    return ledger(shop.work, M8).balance


def kinds(shop: Shop) -> list[MovementKind]:
    """The ledger's movements, oldest first."""
    return [line.kind for line in reversed(ledger(shop.work, M8).lines)]


def count(shop: Shop, number: int) -> None:
    """Count the box a minute later."""
    shop.clock.move(minutes=1)
    book_box(shop.work, uuid.uuid4(), M8, MovementKind.COUNTED, number, "bo")


@ON_BOTH
def test_a_run_takes_its_tap_out_of_the_crib(stocked: Shop) -> None:
    """A tap logged without having been fitted is booked out by its run, once, however many runs follow."""
    for _ in range(3):
        log_run(stocked.work, stocked.entry(tap="N1"))
        stocked.clock.move(minutes=5)
    assert (1, [MovementKind.RECEIVED] * 2 + [MovementKind.ISSUED]) == (on_hand(stocked), kinds(stocked))


def test_a_fitted_tap_is_booked_out_once(stocked: Shop) -> None:
    """A tap that was fitted as it should be is not booked out again."""
    fit_tap(stocked.work, "N1", "arm", "ada")
    log_run(stocked.work, stocked.entry(tap="N1"))
    assert 1 == on_hand(stocked)


def test_a_tap_that_the_ledger_never_heard_of_changes_nothing(stocked: Shop) -> None:
    """A tap that came with an imported log was never in the crib's stock."""
    log_run(stocked.work, stocked.entry(tap="T1"))
    assert 2 == on_hand(stocked)


def test_a_run_from_before_the_tap_came_in_changes_nothing(stocked: Shop) -> None:
    """An old run that is sent late does not take out a tap that came in after it."""
    log_run(stocked.work, stocked.entry(tap="N1", ended_at=stocked.clock() - timedelta(days=2)))
    assert 2 == on_hand(stocked)


@ON_BOTH
def test_undo_puts_the_tap_back(stocked: Shop) -> None:
    """Undoing or cancelling the run that took a tap puts it back."""
    first = log_run(stocked.work, stocked.entry(tap="N1"))
    second = log_run(stocked.work, stocked.entry(tap="N2"))
    undo_run(stocked.work, first.run_id)
    cancel_run(stocked.work, second.run_id, "wrong job", "bo")
    assert 2 == on_hand(stocked)


def test_another_run_still_tells_that_the_tap_is_out(stocked: Shop) -> None:
    """Where two runs used a tap, undoing one of them leaves it out."""
    first = log_run(stocked.work, stocked.entry(tap="N1"))
    stocked.clock.move(minutes=5)
    log_run(stocked.work, stocked.entry(tap="N1"))
    undo_run(stocked.work, first.run_id)
    assert 1 == on_hand(stocked)


def test_a_correction_to_another_tap_moves_the_booking(stocked: Shop) -> None:
    """A run corrected to another tap, and back again, leaves the tap out that the newest row names."""
    first = log_run(stocked.work, stocked.entry(tap="N1"))
    second = correct_run(stocked.work, first.run_id, stocked.entry(tap="N2"), "wrong tap", "bo")
    assert (1, "N2") == (on_hand(stocked), ledger(stocked.work, M8).lines[0].tap)
    correct_run(stocked.work, second.run_id, stocked.entry(tap="N1"), "it was right", "bo")
    assert (1, "N1") == (on_hand(stocked), ledger(stocked.work, M8).lines[0].tap)


def test_a_correction_of_the_same_tap_keeps_it_out(stocked: Shop) -> None:
    """A corrected number of holes still takes one tap out, not none and not two."""
    first = log_run(stocked.work, stocked.entry(tap="N1"))
    correct_run(stocked.work, first.run_id, stocked.entry(tap="N1", holes=50), "miscounted", "bo")
    assert 1 == on_hand(stocked)


def test_a_count_is_not_put_right_twice(stocked: Shop) -> None:
    """A box that was counted after the run is right, whether the run is stored late or cancelled."""
    ended_at = stocked.clock()
    count(stocked, 2)
    run = log_run(stocked.work, stocked.entry(tap="N1", ended_at=ended_at))
    assert 2 == on_hand(stocked)
    cancel_run(stocked.work, run.run_id, "wrong tap", "bo")
    assert 2 == on_hand(stocked)


def test_a_tap_returned_and_used_again_is_booked_again(stocked: Shop) -> None:
    """A tap that came back to the crib and was used again is out again."""
    log_run(stocked.work, stocked.entry(tap="N1"))
    stocked.clock.move(minutes=5)
    move_tap(stocked.work, uuid.uuid4(), "N1", MovementKind.RETURNED, "bo")
    assert 2 == on_hand(stocked)
    stocked.clock.move(minutes=5)
    log_run(stocked.work, stocked.entry(tap="N1", tap_end=TapEnd.BROKEN))
    assert 1 == on_hand(stocked)
