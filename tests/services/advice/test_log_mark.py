"""The log is read anew exactly when it tells something else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.catalogue import things
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.shop import count_life_in
from shopfloor.store import Job, Material
from shopfloor.store.queries.log_mark import LogMark, log_mark
from tests.factories import Shop
from tests.services.advice.plans import steps_of, whole_tables
from tests.services.conftest import ON_BOTH


def mark(shop: Shop) -> LogMark:
    """As the estimator asks for it."""
    with shop.work.read() as session:
        return log_mark(session, shop.clock())


def lacking(shop: Shop) -> None:
    """A job and a material as an import makes them."""
    with shop.work.write() as session:
        job, material = find_in(session, Job, "J1"), find_in(session, Material, "steel")
        assert job is not None
        assert material is not None
        job.hole_making = material.iso_group = None


@ON_BOTH
def test_whatever_changes_a_life_changes_the_mark(shop: Shop) -> None:
    """A run, its being cancelled, a tap, a completed job or material, the shop's measure: each, and nothing else."""
    lacking(shop)
    entry = shop.entry(ended_at=shop.clock() - timedelta(minutes=1))
    job = {"code": "J1", "part": "Bracket", "material": "steel", "thread": "M8", "holes_per_part": "4"}
    actions: tuple[Callable[[], object], ...] = (
        lambda: log_run(shop.work, entry),
        lambda: cancel_run(shop.work, entry.id, "entered twice", "bo"),
        lambda: receive_tap(shop.work, None, "M8 SP", "bo", holes_before=30),
        lambda: things.add(shop.work, "jobs", job | {"hole": "through", "hole_making": "cast"}),
        lambda: things.add(shop.work, "materials", {"code": "steel", "name": "Structural steel", "iso_group": "P"}),
        lambda: count_life_in(shop.work, LifeMeasure.THREAD),
    )
    seen = [mark(shop)]
    for action in actions:
        action()
        seen.append(mark(shop))
        assert seen[-1] == mark(shop)
    assert len(seen) == len(set(seen))


@ON_BOTH
def test_an_entry_that_comes_late_changes_the_mark(shop: Shop) -> None:
    """By a clock that was set back an hour; seen as soon as the clock is as late again, if not before."""
    log_run(shop.work, shop.entry())
    seen = [mark(shop)]
    for minutes in (-5, -55):
        shop.clock.move(minutes=minutes)
        log_run(shop.work, shop.entry(tap="T2"))
        seen.append(mark(shop))
    shop.clock.move(minutes=61)
    assert 4 == len({*seen, mark(shop)})


@ON_BOTH
def test_a_clock_that_was_ahead_hides_nothing(shop: Shop) -> None:
    """What it recorded for next year counts then; each entry until then changes the mark, also that of a young log."""
    log_run(shop.work, shop.entry())
    shop.clock.move(days=365)
    log_run(shop.work, shop.entry(tap="T2"))
    shop.clock.move(days=-364)
    seen = []
    for _ in range(2):
        log_run(shop.work, shop.entry(tap="T3"))
        shop.clock.move(minutes=5)
        with shop.work.read() as session:
            seen += [mark(shop), log_mark(session)]
    assert 4 == len(set(seen))


def test_the_mark_is_found_by_index(sqlite_shop: Shop) -> None:
    """No table of the log is read from one end to the other."""
    log_run(sqlite_shop.work, sqlite_shop.entry())
    steps = steps_of(sqlite_shop, lambda: mark(sqlite_shop))
    assert [] == whole_tables(steps)
    assert any("ix_run_recorded_at" in step for step in steps)
