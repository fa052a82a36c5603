"""Correct and cancel a gauge check: the newest word counts, and every older one can be read."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.input.crib_entries import CheckChange
from shopfloor.core.vocabulary import GaugeResult, Mode, TapEnd, TapState
from shopfloor.services.crib.tap_history import TapHistory, tap_history
from shopfloor.services.ledger.gauge_check_corrections import cancel_check, check_history, correct_check
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.record.revisions import Standing
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Cancellation, GaugeCheck
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

PASSED, FAILED = GaugeResult.PASSED, GaugeResult.FAILED


def gauged(shop: Shop, result: GaugeResult) -> uuid.UUID:
    """T1 makes 48 holes, then is gauged."""
    shop.clock.move(minutes=1)
    log_run(shop.work, shop.entry())
    check = uuid.uuid4()
    shop.clock.move(minutes=1)
    record_gauge_check(shop.work, check, "T1", result, "ada", note="last part")
    return check


def change(shop: Shop, result: GaugeResult, **fields: Any) -> CheckChange:
    """A correction of a check, gauged now."""
    values: dict[str, Any] = {"id": uuid.uuid4(), "result": result, "checked_at": shop.clock(), **fields}
    return CheckChange(**values)


def history(shop: Shop) -> TapHistory:
    """All that the record holds of T1."""
    return tap_history(shop.work, "T1")


@ON_BOTH
def test_a_corrected_check_says_what_counts_and_what_it_said(shop: Shop) -> None:
    """A failed check that had passed: the tap is in service again; who, when and why stay."""
    check = gauged(shop, FAILED)
    assert TapState.WORN is history(shop).present.state
    shop.clock.move(minutes=1)
    correct_check(shop.work, check, change(shop, PASSED, note="other part"), "read the wrong end", "bo")
    newest, old = history(shop).checks
    assert TapState.IN_SERVICE is history(shop).present.state
    assert (PASSED, "other part", "Ada K.", None) == (newest.result, newest.note, newest.person, newest.change)
    assert (FAILED, "last part", Standing.CORRECTED) == (old.result, old.note, old.standing)
    assert old.change is not None
    assert ("Bo L.", shop.clock(), "read the wrong end") == (old.change.by, old.change.at, old.change.reason)
    assert [check, newest.id] == [version.id for version in check_history(shop.work, newest.id).versions]


def test_a_cancelled_check_counts_no_longer(shop: Shop) -> None:
    """It stays in the tap's history, with the reason."""
    check = gauged(shop, FAILED)
    cancel_check(shop.work, check, "another tap", "bo")
    cancel_check(shop.work, check, "sent twice", "bo")
    (left,) = history(shop).checks
    assert TapState.IN_SERVICE is history(shop).present.state
    assert history(shop).in_use is not None
    assert left.change is not None
    assert (Standing.CANCELLED, "another tap") == (left.standing, left.change.reason)


def test_a_check_moved_in_time_bounds_other_holes(shop: Shop) -> None:
    """Passed after the first run, not after the second: the failure lies between 48 and 96 holes, not 0 and 96."""
    first = shop.clock()
    passed = gauged(shop, PASSED)
    gauged(shop, FAILED)
    assert Observation(0, 48, 96, Mode.WEAR) == history(shop).present.observation
    correct_check(shop.work, passed, change(shop, PASSED, checked_at=first), "gauged before", "bo")
    assert Observation(0, 0, 96, Mode.WEAR) == history(shop).present.observation


def test_a_correction_that_later_runs_contradict_is_refused(shop: Shop) -> None:
    """The check cannot have failed where the tap was used on; nothing is stored, and the refusal says what to do."""
    check = gauged(shop, PASSED)
    gauged(shop, PASSED)
    with pytest.raises(Conflict, match=r"entry of 2026-06-01 \d\d:\d\d would contradict .* correct or cancel that"):
        correct_check(
            shop.work, check, change(shop, FAILED, checked_at=history(shop).checks[-1].checked_at), "so", "bo"
        )
    assert 2 == len(history(shop).checks)


def test_what_was_changed_already_is_not_changed_again(shop: Shop) -> None:
    """The newest entry is the one to change."""
    check = gauged(shop, PASSED)
    said = change(shop, PASSED, note="now")
    correct_check(shop.work, check, said, "note", "bo")
    correct_check(shop.work, check, said, "note", "bo")
    assert 2 == len(history(shop).checks)
    with pytest.raises(Conflict, match="in the meantime; open the newest entry"):
        cancel_check(shop.work, check, "so", "bo")
    with pytest.raises(Conflict, match="in the meantime; open the newest entry"):
        correct_check(shop.work, check, change(shop, PASSED), "so", "bo")
    with pytest.raises(Conflict, match="used by another check"):
        correct_check(shop.work, said.id, change(shop, PASSED, id=check), "so", "bo")
    cancel_check(shop.work, said.id, "so", "bo")
    with pytest.raises(Conflict, match="in the meantime"):
        correct_check(shop.work, said.id, change(shop, PASSED), "so", "bo")


@pytest.mark.parametrize(
    ("reason", "by", "told"), [(" ", "bo", "reason: it is missing"), ("so", "eve", "is not a person")]
)
def test_who_and_why_are_asked(sqlite_shop: Shop, reason: str, by: str, told: str) -> None:
    """Neither a correction nor a cancellation goes without."""
    check = gauged(sqlite_shop, PASSED)
    for action in (correction(sqlite_shop, check), partial(cancel_check, sqlite_shop.work, check)):
        with pytest.raises(InputError, match=told):
            action(reason, by)
    with sqlite_shop.work.read() as session:
        assert (1, 0) == (session.query(GaugeCheck).count(), session.query(Cancellation).count())


def test_a_check_that_is_not_there(sqlite_shop: Shop) -> None:
    """Is said not to be there."""
    nothing = uuid.uuid4()
    with pytest.raises(NotFound):
        check_history(sqlite_shop.work, nothing)
    for action in (correction(sqlite_shop, nothing), partial(cancel_check, sqlite_shop.work, nothing)):
        with pytest.raises(NotFound):
            action("so", "bo")


def correction(shop: Shop, check: uuid.UUID) -> Callable[[str, str], None]:
    """A correction that lacks the reason and who makes it."""
    return partial(correct_check, shop.work, check, change(shop, PASSED))


def test_a_run_worn_after_the_check_is_worn_whatever_the_gauge_said(shop: Shop) -> None:
    """Cancelling a check leaves alone what the operator saw."""
    check = gauged(shop, PASSED)
    shop.clock.move(minutes=1)
    log_run(shop.work, shop.entry(tap_end=TapEnd.WORN))
    cancel_check(shop.work, check, "another tap", "bo")
    assert Observation(0, 48, 96, Mode.WEAR) == history(shop).present.observation
