"""What is usual on a job at a station, as the record knows it, on both databases."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from sqlalchemy import func, select

from shopfloor.core.input.plausibility import Doubtful, Usual
from shopfloor.core.vocabulary import Confirmed, DepthControl, TapEnd
from shopfloor.services.runs.batch_size import Portion, Why
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.runs.usual_sizes import Habit, habit_of
from shopfloor.services.station.offline_lists import kept_lists
from shopfloor.services.station.page import at_station, log_batch
from shopfloor.store import Job, Run, Station
from tests.factories import Shop
from tests.services.batches import log, raw
from tests.services.conftest import ON_BOTH


def habit(shop: Shop, job: str = "J1", station: str = "arm") -> Habit:
    """How the job was worked on at the station."""
    with shop.work.read() as session:
        place = session.scalars(select(Station).where(Station.code == station)).one()
        return habit_of(session, place, session.scalars(select(Job).where(Job.code == job)).one())


def test_of_a_new_job_only_the_plan_is_known(shop: Shop) -> None:
    """4 x 50 planned; nothing is usual yet."""
    assert Habit(Usual(None, 200, None)) == habit(shop)


@ON_BOTH
def test_the_usual_batch_is_the_middle_one_here_over_all_its_taps(shop: Shop) -> None:
    """A batch of 20 + 28 is one; those of another station do not matter where there are some here."""
    log(shop, holes=7, station="air", rpm=350)
    assert Usual(7, 193, None) == habit(shop).usual
    batch = uuid.uuid4()
    log(shop, holes=20, batch_id=batch, tap_end=TapEnd.WORN)
    log(shop, holes=28, batch_id=batch, tap="T2", depth_control=DepthControl.BY_EYE)
    runs = [log(shop, holes=holes, tap="T2", rpm=300) for holes in (10, 12)]
    assert Habit(Usual(12, 123, 300), 12, runs[-1]) == habit(shop)


def test_what_was_confirmed_is_left_out(shop: Shop) -> None:
    """Neither the batch nor the speed is offered; how depth was kept is."""
    log(shop, holes=18, rpm=200)
    odd = log(shop, holes=180, rpm=450, confirmed=(Confirmed.HOLES, Confirmed.SPEED), depth_control=DepthControl.BY_EYE)
    page = at_station(shop.work, "arm", "ada", "J1")
    assert (Portion(2, Why.LEFT_ON_JOB), 200) == (page.portion, page.rpm)
    assert DepthControl.BY_EYE is page.habit.depth_control
    assert Usual(18, 2, 200) == page.habit.usual
    cancel_run(shop.work, odd, "typed wrong", "ada")
    assert Portion(18, Why.LAST_TIME) == at_station(shop.work, "arm", "ada", "J1").portion


def test_a_batch_of_which_one_run_was_confirmed_is_left_out_as_a_whole(shop: Shop) -> None:
    """Its tap broke after seven of the 1812."""
    log(shop, holes=18)
    batch = uuid.uuid4()
    log(shop, holes=7, batch_id=batch, tap_end=TapEnd.BROKEN, broke_at_hole=7, confirmed=(Confirmed.HOLES,))
    log(shop, holes=100, batch_id=batch, tap="T2")
    assert (18, 18) == (habit(shop).usual.batch, habit(shop).last_batch)


def test_what_is_typed_is_stored_only_once_it_is_confirmed(shop: Shop) -> None:
    """Nothing is written while somebody is asked."""
    log(shop, holes=18)
    typed = raw(holes="181")
    with pytest.raises(Doubtful, match="181\\? Usual on this job: 18"):
        log_batch(shop.work, typed, offered=18)
    with shop.work.read() as session:
        assert 1 == session.scalar(select(func.count()).select_from(Run))
    kept = log_batch(shop.work, typed, offered=18, sure="holes=181")
    with shop.work.read() as session:
        assert "holes" == session.get_one(Run, kept.run_id).confirmed


def test_a_run_repeated_is_the_same_whatever_was_confirmed(shop: Shop) -> None:
    """What was asked says nothing of the work."""
    entry = shop.entry(holes=18, confirmed=(Confirmed.HOLES,))
    assert [True, False] == [log_run(shop.work, entry).is_new, log_run(shop.work, entry).is_new]
    assert not log_run(shop.work, shop.entry(id=entry.id, holes=18)).is_new


def test_a_program_is_asked_nothing(shop: Shop) -> None:
    """No person stands before it: what it sends is stored, and still not offered where it is odd."""
    for holes in (18, 18, 150):
        log(shop, holes=holes)
    assert (18, 18) == (habit(shop).usual.batch, habit(shop).last_batch)


def test_the_tablet_keeps_what_is_usual_of_each_job(shop: Shop) -> None:
    """By the job's code, so that a job chosen without network is held to its own."""
    log(shop, holes=18, rpm=200)
    kept = kept_lists(shop.work, "arm")
    assert {job.code for job in kept.jobs} == set(kept.usual)
    assert (Usual(18, 182, 200), Usual(None, 200, None)) == (kept.usual["J1"], kept.usual["J3"])


def page_usual(shop: Shop, **changes: Any) -> Usual:
    """What the page holds numbers to, after a run."""
    log(shop, **changes)
    return at_station(shop.work, "arm", "ada", "J1").habit.usual


def test_the_page_and_the_lists_hold_numbers_to_the_same(shop: Shop) -> None:
    """Whatever was logged."""
    for changes in ({"holes": 18}, {"holes": 90, "confirmed": (Confirmed.HOLES,)}, {"holes": 30, "rpm": 100}):
        assert page_usual(shop, **changes) == kept_lists(shop.work, "arm").usual["J1"]
