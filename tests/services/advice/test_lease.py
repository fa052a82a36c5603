"""One process at a time works out estimates; when it dies, another takes over."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import event

from shopfloor.services.advice import estimator, lag
from shopfloor.services.advice.estimator import follow, keep_up, make_next
from shopfloor.services.advice.lag import is_due
from shopfloor.services.advice.lease import LASTS, Lease
from shopfloor.services.record.work import Work
from shopfloor.store.queries.lease import holding
from tests.factories import Shop
from tests.services.advice.kept_log import kept, lives, log
from tests.services.conftest import ON_BOTH

HOLDER = """
import sys
from shopfloor.services.advice.lease import Lease
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
lease = Lease(Work.on(Settings(database=sys.argv[1])))
print(lease.take(), flush=True)
with lease.kept():
    sys.stdin.read()
"""


@pytest.fixture(autouse=True)
def _no_log_is_young(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each log is worked out."""
    monkeypatch.setattr(lag, "YOUNG", 0)


@ON_BOTH
def test_it_is_one_holders_at_a_time(shop: Shop) -> None:
    """Another gets it once it is given back, or has run out; a holder that is late finds it taken."""
    one, other = Lease(shop.work), Lease(shop.work)
    assert (True, False, True) == (one.take(), other.take(), one.take())
    one.give_back()
    assert (True, False) == (other.take(), one.take())
    shop.clock.now += LASTS
    assert (True, False) == (one.take(), other.take())


@ON_BOTH
def test_a_clock_that_is_set_back_holds_nobody_up(shop: Shop) -> None:
    """Who died before that held it for an hour more; another takes it at once, and keeps it."""
    dead, other, third = (Lease(shop.work) for _ in range(3))
    dead.take()
    shop.clock.move(hours=-1)
    assert (True, True, False) == (other.take(), other.take(), third.take())


def test_it_is_written_only_when_it_has_to_be(sqlite_shop: Shop) -> None:
    """A holder that looks each second writes every few seconds, one that waits never."""
    one, other = Lease(sqlite_shop.work), Lease(sqlite_shop.work)
    one.take()
    begun: list[str] = []
    event.listen(sqlite_shop.work.engine, "before_cursor_execute", lambda *told: begun.append(told[2]))
    for _ in range(12):
        sqlite_shop.clock.move(seconds=1)
        one.take()
        other.take()
    assert 2 == sum(words.startswith("UPDATE") for words in begun)


@pytest.mark.skipif(os.name != "posix", reason="a process is killed by a signal")
def test_a_killed_holder_is_followed_by_another(sqlite_shop: Shop) -> None:
    """As soon as its lease has run out, and not before."""
    address = sqlite_shop.work.settings.database
    command = [sys.executable, "-c", HOLDER, address]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert "True\n" == process.stdout.readline()
        mine = Lease(Work.on(sqlite_shop.work.settings))
        before = mine.take()
        process.send_signal(signal.SIGKILL)
        process.wait()
        after = mine.take()
        with sqlite_shop.work.read() as session:
            held = holding(session)
    assert held is not None
    later = Lease(Work.on(sqlite_shop.work.settings, lambda: held.until))
    assert (False, False, True) == (before, after, later.take())


def looks(times: int, between: Callable[[int], None]) -> Callable[[float], bool]:
    """To be asked whether it is over: so many times not yet, with something done in between."""
    asked = iter(range(times))

    def is_over(_: float) -> bool:
        number = next(asked, None)
        if number is not None:
            between(number)
        return number is None

    return is_over


def test_a_new_generation_follows_each_entry(sqlite_shop: Shop) -> None:
    """And none where nothing was recorded; at the end the lease is given back."""
    lives(sqlite_shop, taps=2)

    def work_on(number: int) -> None:
        if number in (2, 3):
            log(sqlite_shop, "T1", 10)

    follow(sqlite_shop.work, looks(6, work_on))
    assert [1, 2, 3] == kept(sqlite_shop)[0]
    assert not is_due(sqlite_shop.work)
    with sqlite_shop.work.read() as session:
        assert holding(session) is None


def test_whoever_does_not_hold_it_makes_nothing(sqlite_shop: Shop) -> None:
    """However much has been recorded; once the other is gone, it does."""
    lives(sqlite_shop, taps=2)
    one, other = Lease(sqlite_shop.work), Lease(sqlite_shop.work)
    one.take()
    made = [keep_up(sqlite_shop.work, other)]
    one.give_back()
    made.append(keep_up(sqlite_shop.work, other))
    assert [None, 1] == made


def test_a_command_takes_what_another_just_made(sqlite_shop: Shop) -> None:
    """It waits while somebody else is at it, and does not do it again."""
    lives(sqlite_shop, taps=2)
    other = Lease(sqlite_shop.work)
    other.take()
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == 2:
            keep_up(sqlite_shop.work, other)

    assert (1, 2) == (make_next(sqlite_shop.work, wait), len(waited))


def test_a_database_that_is_away_is_asked_again(sqlite_shop: Shop, tmp_path: Path) -> None:
    """The estimator waits for it and then goes on."""
    lives(sqlite_shop, taps=2)
    path, elsewhere = tmp_path / "shop.sqlite", tmp_path / "moved.sqlite"
    waits: list[float] = []

    def is_over(seconds: float) -> bool:
        waits.append(seconds)
        if len(waits) == 1:
            sqlite_shop.work.engine.dispose()
            path.rename(elsewhere)
        if len(waits) == 2:
            elsewhere.rename(path)
        return len(waits) > 3

    follow(sqlite_shop.work, is_over)
    assert [estimator.PAUSE_S, estimator.AWAY_S] == waits[:2]
    assert [1] == kept(sqlite_shop)[0]
