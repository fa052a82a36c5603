"""The log is read anew exactly when it tells something else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from shopfloor.core.vocabulary import LifeMeasure, Mode
from shopfloor.services.advice import log_state
from shopfloor.services.catalogue import things
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.shop import count_life_in
from shopfloor.store import Job, Material, Tap
from shopfloor.store.queries.version import Version, version_of
from tests.factories import Shop
from tests.services.conftest import ON_BOTH


def version(shop: Shop) -> Version:
    """As a page asks for it."""
    with shop.work.read() as session:
        return version_of(session)


def lacking(shop: Shop) -> None:
    """A job and a material as an import makes them."""
    with shop.work.write() as session:
        job, material = find_in(session, Job, "J1"), find_in(session, Material, "steel")
        assert job is not None
        assert material is not None
        job.hole_making = material.iso_group = None


@ON_BOTH
def test_whatever_changes_a_life_changes_the_version(shop: Shop) -> None:
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
    seen = [version(shop)]
    for action in actions:
        action()
        seen.append(version(shop))
        assert seen[-1] == version(shop)
    assert len(seen) == len(set(seen))


def test_many_lives_keep_their_posterior_while_hardly_any_changed(
    sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One life of six may differ here: the second that does has the posterior found anew; pasts are always new."""
    monkeypatch.setattr(log_state, "MANY_LIVES", 4)
    monkeypatch.setattr(log_state, "HARDLY", 0.3)
    taps = [receive_tap(sqlite_shop.work, None, "M8 SP", "bo") for _ in range(6)]

    def found(tap: str) -> tuple[object, float]:
        sqlite_shop.clock.move(minutes=5)
        log_run(sqlite_shop.work, sqlite_shop.entry(tap=tap, holes=60))
        with sqlite_shop.work.read() as session:
            pool, row = log_state.LogPosterior(session), find_in(session, Tap, tap)
            assert row is not None
            (condition, holes), *_ = pool.past(row.id, 0)
            return pool.draws(condition)[Mode.BREAK].log_scale.tobytes(), holes

    for tap in taps:
        found(tap)
    (first, _), (second, made), (third, _) = found(taps[0]), found(taps[0]), found(taps[1])
    assert (first, 180) == (second, made)
    assert first != third
