"""The computer's clock is set back an hour: what the server records, refuses and waits for stays right."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta

from sqlalchemy import select

from shopfloor.core.input.run_entry import FROM_A_TABLET, EntryLimits, read_run
from shopfloor.services.record.steady_clock import SteadyClock, with_steady_clock
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Run
from tests.cli.serving import run
from tests.factories import NOON, Clock, Shop
from tests.services.conftest import ON_BOTH

HOUR = timedelta(hours=1)


def test_it_never_goes_back() -> None:
    """Set back an hour it goes on at half its pace, and with the computer's clock once that has caught up."""
    wall, ticks = Clock(), iter([0.0, 60.0, 60.0, 120.0, 7320.0])
    clock = SteadyClock(NOON, wall, lambda: next(ticks))
    wall.move(minutes=1)
    assert NOON + timedelta(minutes=1) == clock()
    wall.now -= HOUR
    assert NOON + timedelta(minutes=1) == clock()
    wall.move(minutes=1)
    assert NOON + timedelta(minutes=1.5) == clock()
    wall.move(hours=2)
    assert NOON + timedelta(hours=1, minutes=2) == clock()


@ON_BOTH
def test_a_server_begun_after_that_goes_on_where_the_record_is(shop: Shop) -> None:
    """A tap's runs stay in order, and what a tablet has kept since before lies in no future."""
    first = shop.entry()
    log_run(shop.work, first)
    shop.clock.now -= HOUR
    work = with_steady_clock(shop.work)
    second = replace(shop.entry(), ended_at=work.clock())
    log_run(work, second)
    with work.read() as session:
        assert [first.id, second.id] == list(session.scalars(select(Run.id).order_by(Run.ended_at, Run.position)))
    limits = EntryLimits(work.clock(), UTC, 5000, FROM_A_TABLET)
    kept = read_run(run(when=first.ended_at.isoformat()), limits)
    assert first.ended_at == kept.ended_at


def test_a_time_far_ahead_says_nothing(sqlite_shop: Shop) -> None:
    """A clock that was years ahead for a moment does not hold the record there."""
    sqlite_shop.clock.now += timedelta(days=1000)
    log_run(sqlite_shop.work, sqlite_shop.entry())
    sqlite_shop.clock.now = NOON
    told = with_steady_clock(sqlite_shop.work).clock()
    assert timedelta(0) <= told - NOON < timedelta(minutes=1)
