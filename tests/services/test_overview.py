"""The shop at a glance: the same figures as the boards, and few questions to the database."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import event

from shopfloor.core.decision.when_to_change import Action
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.crib.board import board
from shopfloor.services.crib.orders import Stand, order_list
from shopfloor.services.overview import Overview, overview
from shopfloor.services.quality.breakage import Period, breakage
from shopfloor.services.runs.runs import cancel_run, log_run
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

MOST_STATEMENTS = 42


def seen(shop: Shop) -> Overview:
    """The overview of a shop that has a log."""
    found = overview(shop.work)
    assert found is not None
    return found


def test_an_empty_log_has_nothing_to_show(sqlite_shop: Shop) -> None:
    """Taps on record are no log."""
    assert overview(sqlite_shop.work) is None


@ON_BOTH
def test_the_newest_run_that_counts_is_told(shop: Shop) -> None:
    """Its end and its station; a cancelled run is not told, a run of nine days ago is not counted."""
    shop.clock.move(days=-9)
    log_run(shop.work, shop.entry())
    shop.clock.move(days=9)
    told = shop.clock()
    log_run(shop.work, shop.entry(station="air", rpm=350))
    shop.clock.move(minutes=5)
    mistaken = log_run(shop.work, shop.entry())
    cancel_run(shop.work, mistaken.run_id, "entered twice", "ada")
    logged = seen(shop).logged
    assert (told, "Air arm", 1, 7) == (logged.last_at, logged.station, logged.runs, logged.days)


def test_a_log_without_stations_is_told_too(sqlite_shop: Shop) -> None:
    """The run has an end but no place."""
    log_run(sqlite_shop.work, sqlite_shop.entry(station=None))
    assert None is seen(sqlite_shop).logged.station


@ON_BOTH
def test_the_boards_say_the_same(shop: Shop) -> None:
    """Taps due, types to order and the rate of breaks are those of the pages that it links to."""
    log_run(shop.work, shop.entry(tap="T1", tap_end=TapEnd.BROKEN, broke_at_hole=20))
    log_run(shop.work, shop.entry(tap="T2"))
    found, due, lines = seen(shop), board(shop.work), order_list(shop.work)
    assert (len(due.taps), due.counts[Action.CHANGE_NOW], due.counts[Action.AFTER]) == (
        found.due.taps,
        found.due.now,
        found.due.next_batch,
    )
    assert len(lines.standing(Stand.ORDER)) == found.lacking.to_order
    assert len(lines.lines) == found.lacking.tap_types == found.lacking.to_order + found.lacking.to_count
    assert breakage(shop.work, period=Period.QUARTER).total == found.broken
    assert found.broken is not None
    assert (1, 68) == (found.broken.breaks.events, found.broken.breaks.holes)


def test_an_old_log_has_no_rate(sqlite_shop: Shop) -> None:
    """No hole in the last 90 days: no rate is shown, but the last run still is."""
    log_run(sqlite_shop.work, sqlite_shop.entry())
    then = sqlite_shop.clock()
    sqlite_shop.clock.move(days=91)
    found = seen(sqlite_shop)
    assert (then, 0, None) == (found.logged.last_at, found.logged.runs, found.broken)
    assert timedelta(days=91) == sqlite_shop.clock() - found.logged.last_at


def test_the_number_of_questions_does_not_grow_with_the_log(sqlite_shop: Shop) -> None:
    """No more statements for thirty runs than for three; one less, since runs elsewhere need not be looked at."""
    sent: list[str] = []
    event.listen(sqlite_shop.work.engine, "before_cursor_execute", lambda *told: sent.append(told[2]))
    asked = []
    for runs in (3, 27):
        for _ in range(runs):
            sqlite_shop.clock.move(minutes=1)
            log_run(sqlite_shop.work, sqlite_shop.entry(holes=4))
        sent.clear()
        seen(sqlite_shop)
        asked.append(len(sent))
    assert asked[1] == asked[0] - 1 < MOST_STATEMENTS
