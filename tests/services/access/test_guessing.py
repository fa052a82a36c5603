"""Somebody guesses at log-ins: what the guesses get, and that nobody else is shut out. By a clock that is moved."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from argon2 import PasswordHasher
from sqlalchemy import func, select

from shopfloor.core.errors import InputError
from shopfloor.core.input import passwords
from shopfloor.core.vocabulary import Attempt
from shopfloor.services.access import attempts, credentials, hashing, log_in, tablets
from shopfloor.services.access.attempts import TooSoon, release
from shopfloor.store import SignInAttempt
from tests.factories import Shop
from tests.services.at_once import together
from tests.services.conftest import ON_BOTH

PIN, PASSWORD = "271828", "seven blunt taps"
GUESSER, OFFICE, HOME = "10.0.0.66", "10.0.0.7", "10.0.0.8"


@pytest.fixture(autouse=True)
def cheap_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here the cost of looking at a secret is counted, not felt."""
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(hashing, "_hasher", cheap)
    monkeypatch.setattr(hashing, "_NOBODYS", cheap.hash("of nobody"))


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every secret that is looked at."""
    seen: list[str] = []

    def fits(kept: str | None, secret: str) -> bool:
        seen.append(secret)
        return hashing.fits(kept, secret)

    monkeypatch.setattr(log_in, "fits", fits)
    return seen


def opened(shop: Shop) -> int:
    """Bo is the supervisor, Ada has a PIN, one tablet is enrolled; returns its number."""
    for person, secret, give in (("bo", PASSWORD, credentials.first_supervisor), ("ada", PIN, credentials.give_secret)):
        give(shop.work, {"person": person, "secret": secret, "again": secret})
    return tablets.enrol(shop.work, "Arm 1", "bo")[0]


def guess(shop: Shop, address: str | None, person: str = "bo", tablet: int | None = None) -> type[InputError]:
    """A wrong secret; the kind of refusal."""
    with pytest.raises(InputError) as refused:
        log_in.sign_in(shop.work, person, "not this one", tablet, address)
    return type(refused.value)


def recorded(shop: Shop, *outcomes: Attempt) -> int:
    """How many attempts are on record with one of these outcomes."""
    with shop.work.read() as session:
        query = select(func.count()).where(SignInAttempt.outcome.in_(outcomes))
        return session.scalar(query) or 0


@ON_BOTH
def test_who_guesses_from_elsewhere_shuts_nobody_out(shop: Shop, looked_at: list[str]) -> None:
    """One guess each 0.3 s for a minute and a half: the right password gets in from a fresh address every time, the
    right PIN at the tablet too; of the guesses six are looked at.
    """
    tablet = opened(shop)
    for n in range(300):
        shop.clock.move(seconds=0.3)
        guess(shop, GUESSER, ("bo", "ada")[n % 2])
        if n % 30 == 0:
            log_in.sign_in(shop.work, "bo", PASSWORD, None, f"10.0.1.{n % 250}")
            log_in.sign_in(shop.work, "ada", PIN, tablet)
    assert 6 == looked_at.count("not this one")


def test_guesses_at_a_tablet_make_that_tablet_wait(sqlite_shop: Shop) -> None:
    """No other one, and no address."""
    tablet = opened(sqlite_shop)
    other, _ = tablets.enrol(sqlite_shop.work, "Arm 2", "bo")
    for _ in range(20):
        guess(sqlite_shop, None, "ada", tablet)
    with pytest.raises(TooSoon):
        log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, tablet)
    log_in.sign_in(sqlite_shop.work, "ada", PIN, other)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, OFFICE)


def test_a_colleague_who_logs_in_between_frees_no_guesses(sqlite_shop: Shop, looked_at: list[str]) -> None:
    """Ada gives her own PIN after every third guess at Bo's password: the guesses at it count all the same."""
    tablet = opened(sqlite_shop)
    for n in range(60):
        sqlite_shop.clock.move(seconds=1)
        guess(sqlite_shop, None, "bo", tablet)
        if n % 3 == 2:
            log_in.sign_in(sqlite_shop.work, "ada", PIN, tablet)
    assert 6 >= looked_at.count("not this one")


def spread(shop: Shop, minutes: int) -> int:
    """Six addresses guess at Bo's password once a minute each; how many guesses were not refused as too soon."""
    taken = 0
    for _ in range(minutes):
        shop.clock.move(minutes=1)
        taken += sum(guess(shop, f"10.0.2.{n}") is InputError for n in range(6))
    return taken


def test_many_addresses_that_guess_at_one_name_are_few_guesses(
    sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After 16 (here) within an hour each address has one in a quarter of an hour; a place that knows Bo never waits, a
    new one once.
    """
    monkeypatch.setattr(passwords, "_STRANGERS_WAIT", {8: timedelta(minutes=1), 16: timedelta(minutes=15)})
    opened(sqlite_shop)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, OFFICE)
    assert 16 + 6 * 2 >= spread(sqlite_shop, 25)
    with pytest.raises(TooSoon) as refused:
        log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, HOME)
    assert "min" in str(refused.value)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, OFFICE)
    spread(sqlite_shop, 15)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, HOME)


def test_a_supervisor_ends_every_wait_of_a_person(sqlite_shop: Shop) -> None:
    """At the tablet, at an address, and that of strangers; who waits is shown as long as that."""
    tablet = opened(sqlite_shop)
    spread(sqlite_shop, 9)
    for place in (tablet, None):
        for _ in range(6):
            guess(sqlite_shop, HOME, "bo", place)
    assert ["Bo L."] == [one.name for one in credentials.holders(sqlite_shop.work) if one.has_to_wait]
    release(sqlite_shop.work, "bo")
    assert not [one for one in credentials.holders(sqlite_shop.work) if one.has_to_wait]
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, HOME)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, tablet)


def test_unknown_names_cost_no_more_than_known_ones(sqlite_shop: Shop, looked_at: list[str]) -> None:
    """From twelve addresses, each a new name every time: five looks an address, six rows, and the same answers."""
    opened(sqlite_shop)
    before = recorded(sqlite_shop, *Attempt)
    answers = {
        name: [guess(sqlite_shop, f"10.0.{n}.1", f"{name}{i}" if name == "nobody" else name) for i in range(30)]
        for n, name in enumerate(["bo", *["nobody"] * 11])
    }
    assert answers["bo"] == answers["nobody"] == [InputError] * 5 + [TooSoon] * 25
    for n in range(2, 12):
        assert TooSoon is guess(sqlite_shop, f"10.0.{n}.1", "somebody else")
    assert 12 * 5 == len(looked_at)
    assert 12 * 6 == recorded(sqlite_shop, *Attempt) - before


def test_no_more_than_two_secrets_are_looked_at_together(sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The others wait for their turn: guessing leaves the processor to those who work."""
    opened(sqlite_shop)
    together_now, most, lock = 0, 0, threading.Lock()

    def fits(kept: str | None, secret: str) -> bool:
        nonlocal together_now, most
        with lock:
            together_now, most = together_now + 1, max(most, together_now + 1)
        try:
            return hashing.fits(kept, secret)
        finally:
            with lock:
                together_now -= 1

    monkeypatch.setattr(log_in, "fits", fits)
    monkeypatch.setattr(attempts, "_PATIENCE_S", 60)
    together(*(partial(guess, sqlite_shop, f"10.0.0.{n}", f"nobody {n}") for n in range(12)))
    assert 2 >= most > 0


def test_who_gets_no_turn_is_told_at_once(sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """It counts as no wrong attempt; a moment later there is one."""
    opened(sqlite_shop)
    monkeypatch.setattr(attempts, "_PATIENCE_S", 0)
    with attempts.in_turn(), attempts.in_turn(), pytest.raises(TooSoon, match="your attempt was not checked"):
        log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, OFFICE)
    assert 0 == recorded(sqlite_shop, Attempt.WRONG)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, OFFICE)


@pytest.fixture(params=["a tablet", "an address", "an address, and nobody's name"])
def way(request: pytest.FixtureRequest) -> Callable[[Shop], Any]:
    """Where a guess comes from, and at whom."""
    person = "nobody" if request.param.endswith("name") else "ada"

    def guess_there(shop: Shop) -> type[InputError]:
        return guess(shop, GUESSER, person, 1 if request.param == "a tablet" else None)

    return guess_there


@ON_BOTH
def test_of_many_guesses_at_once_a_handful_is_looked_at(
    shop: Shop, way: Callable[[Shop], Any], looked_at: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Forty at the same moment, on either database: as many as one after the other."""
    opened(shop)
    monkeypatch.setattr(attempts, "_PATIENCE_S", 60)
    together(*[partial(way, shop)] * 40)
    assert 5 == len(looked_at)


def test_an_old_wait_is_no_wait(sqlite_shop: Shop) -> None:
    """Whoever comes back the next day gets the attempt that is due."""
    opened(sqlite_shop)
    for _ in range(12):
        guess(sqlite_shop, HOME)
    sqlite_shop.clock.now += timedelta(days=1)
    log_in.sign_in(sqlite_shop.work, "bo", PASSWORD, None, HOME)


def test_nobody_waits_an_hour_for_a_clock_that_was_set_back(shop: Shop) -> None:
    """What was recorded before leaves no wait then; further guesses wait as ever."""
    opened(shop)
    outcomes = [guess(shop, OFFICE) for _ in range(10)]
    assert TooSoon is outcomes[-1]
    shop.clock.now -= timedelta(hours=1)
    assert [InputError, TooSoon] == [guess(shop, OFFICE) for _ in range(2)]
