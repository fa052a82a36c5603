"""The log is read anew exactly when it tells something else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services import catalogue
from shopfloor.services.batches import cancel_run, log_run
from shopfloor.services.codes import find_in
from shopfloor.services.shop import count_life_in
from shopfloor.services.taps import receive_tap
from shopfloor.store import Job, Material
from shopfloor.store.queries.version import Version, version_of
from tests.factories import Shop


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


def test_whatever_changes_a_life_changes_the_version(shop: Shop) -> None:
    """A run, its being cancelled, a tap, a completed job or material, the shop's measure: each, and nothing else."""
    lacking(shop)
    entry = shop.entry(ended_at=shop.clock() - timedelta(minutes=1))
    job = {"code": "J1", "part": "Bracket", "material": "steel", "thread": "M8", "holes_per_part": "4"}
    deeds: tuple[Callable[[], object], ...] = (
        lambda: log_run(shop.work, entry),
        lambda: cancel_run(shop.work, entry.id, "entered twice", "bo"),
        lambda: receive_tap(shop.work, None, "M8 SP", "bo", holes_before=30),
        lambda: catalogue.add(shop.work, "jobs", job | {"hole": "through", "hole_making": "cast"}),
        lambda: catalogue.add(shop.work, "materials", {"code": "steel", "name": "Structural steel", "iso_group": "P"}),
        lambda: count_life_in(shop.work, LifeMeasure.THREAD),
    )
    seen = [version(shop)]
    for deed in deeds:
        deed()
        seen.append(version(shop))
        assert seen[-1] == version(shop)
    assert len(seen) == len(set(seen))
