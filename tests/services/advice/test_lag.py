"""How far estimates are behind the log."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.advice.lag import lag_s
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.shop import count_life_in
from shopfloor.store.queries.generations import outdate_generations
from tests.factories import Shop
from tests.services.advice.plans import steps_of, whole_tables
from tests.services.conftest import ON_BOTH

LOGGED = {"run", "gauge_check", "stock_movement", "cancellation", "catalogue_edit", "catalogue_change"}
"""The tables of the log, which grow without end."""


def logged(shop: Shop) -> None:
    """A run that is recorded now."""
    log_run(shop.work, shop.entry(ended_at=shop.clock() - timedelta(hours=3)))


@pytest.fixture(autouse=True)
def no_log_is_young(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each log needs estimates."""
    monkeypatch.setattr("shopfloor.services.advice.lag.YOUNG", 0)


@ON_BOTH
def test_the_oldest_unknown_entry_counts(shop: Shop) -> None:
    """By when it was recorded, however many came since; a new generation knows them all."""
    lags = [lag_s(shop.work)]
    for _ in range(2):
        for _ in range(3):
            logged(shop)
            shop.clock.move(seconds=20)
            lags.append(lag_s(shop.work))
        make_generation(shop.work)
        lags.append(lag_s(shop.work))
    assert [0, 20, 40, 60, 0, 20, 40, 60, 0] == lags


@ON_BOTH
def test_what_is_no_run_counts_as_well(shop: Shop) -> None:
    """A cancelled run, and a change of what lives rest on."""
    entry = shop.entry()
    log_run(shop.work, entry)
    shop.clock.move(seconds=5)
    make_generation(shop.work)
    shop.clock.move(seconds=5)
    count_life_in(shop.work, LifeMeasure.THREAD)
    shop.clock.move(seconds=5)
    changed = lag_s(shop.work)
    make_generation(shop.work)
    shop.clock.move(seconds=5)
    cancel_run(shop.work, entry.id, "entered twice", "bo")
    shop.clock.move(seconds=7)
    assert [5, 7] == [changed, lag_s(shop.work)]


def test_estimates_that_are_to_be_made_anew_are_behind_since_they_were_made(sqlite_shop: Shop) -> None:
    """As after all lives were recalculated: no entry is newer than they are."""
    logged(sqlite_shop)
    sqlite_shop.clock.move(seconds=5)
    make_generation(sqlite_shop.work)
    with sqlite_shop.work.write() as session:
        outdate_generations(session)
    sqlite_shop.clock.move(seconds=11)
    assert 11 == lag_s(sqlite_shop.work)


def test_a_young_log_is_never_behind(sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages answer from it at once."""
    monkeypatch.setattr("shopfloor.services.advice.lag.YOUNG", 100)
    logged(sqlite_shop)
    sqlite_shop.clock.move(hours=1)
    assert 0 == lag_s(sqlite_shop.work)


def test_a_clock_that_was_set_back_gives_no_negative_lag(sqlite_shop: Shop) -> None:
    """What was recorded for later counts once it is that late."""
    logged(sqlite_shop)
    make_generation(sqlite_shop.work)
    logged(sqlite_shop)
    sqlite_shop.clock.move(hours=-1)
    assert 0 == lag_s(sqlite_shop.work)


@pytest.mark.parametrize("is_kept", [False, True])
def test_the_oldest_unknown_entry_is_found_by_index(sqlite_shop: Shop, is_kept: bool) -> None:
    """No table of the log is read from one end to the other, be there a generation or not."""
    logged(sqlite_shop)
    if is_kept:
        make_generation(sqlite_shop.work)
        sqlite_shop.clock.move(seconds=5)
        logged(sqlite_shop)
    steps = steps_of(sqlite_shop, lambda: lag_s(sqlite_shop.work))
    assert set() == {step.split()[1] for step in whole_tables(steps)} & LOGGED
    assert any("ix_run_recorded_at (recorded_at>? AND recorded_at<?)" in step for step in steps) == is_kept
