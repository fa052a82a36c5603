"""The station page's facts, choices, saving and the log book, on both databases."""

from __future__ import annotations

import uuid

import pytest
from sqlalchemy import select

from shopfloor.core.errors import InputError, NotFound
from shopfloor.core.threads import same_thread
from shopfloor.core.vocabulary import DepthControl, Lubricant, TapEnd
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.runs.batch_size import Portion, Why
from shopfloor.services.station import choices, log_entries
from shopfloor.services.station.fitting import fit, fit_new
from shopfloor.services.station.page import OtherTap, at_station, log_batch
from shopfloor.store import Job, Run
from tests.factories import Shop
from tests.services.batches import log, raw
from tests.services.conftest import ON_BOTH


def broken(**changes: object) -> dict[str, object]:
    """A batch in which the tap broke."""
    return raw(tap_end="broken", broke_at_hole="27", part_fate="scrapped") | changes


def test_the_page_shows_the_tap_that_was_fitted_last_and_cuts_the_thread(shop: Shop) -> None:
    """Of several taps at the station it is the last one for this job."""
    for tap in ("T1", "T2", "B1"):
        shop.clock.move(minutes=1)
        fit_tap(shop.work, tap, "arm", "ada")
    assert ["T2", "B1"] == [getattr(at_station(shop.work, "arm", "ada", job).tap, "code", None) for job in ("J1", "J3")]


def test_a_tap_of_another_thread_is_no_tap_for_the_job(shop: Shop) -> None:
    """The page names it, so that the operator can fit the right one."""
    fit_tap(shop.work, "B1", "arm", "ada")
    page = at_station(shop.work, "arm", "ada", "J1")
    assert (None, OtherTap("B1", "1/2-13")) == (page.tap, page.other_tap)


def test_a_broken_tap_is_not_in_the_station(shop: Shop) -> None:
    """The station is empty after a break."""
    log(shop, tap_end=TapEnd.BROKEN, broke_at_hole=5)
    assert at_station(shop.work, "arm", "ada", "J1").tap is None


@ON_BOTH
def test_the_whole_plan_is_offered_first_then_the_last_batch_over_all_its_taps(shop: Shop) -> None:
    """4 x 50 = 200 planned; then a batch of 20 + 28; then what is left when that is less."""
    assert Portion(200, Why.LEFT_ON_JOB) == at_station(shop.work, "arm", "ada", "J1").portion
    batch = uuid.uuid4()
    log(shop, holes=20, batch_id=batch, tap_end=TapEnd.WORN)
    log(shop, holes=28, batch_id=batch, tap="T2")
    assert Portion(48, Why.LAST_TIME) == at_station(shop.work, "arm", "ada", "J1").portion
    log(shop, holes=120, tap="T2", station="air", rpm=350)
    assert Portion(32, Why.LEFT_ON_JOB) == at_station(shop.work, "arm", "ada", "J1").portion


@ON_BOTH
def test_conditions_are_those_of_the_last_run_of_the_job_here(shop: Shop) -> None:
    """Else the planned speed, within what the station can run."""
    assert (250, 350) == tuple(at_station(shop.work, code, "ada", "J1").rpm for code in ("arm", "air"))
    log(shop, rpm=300, depth_control=DepthControl.BY_EYE, lubricant=Lubricant.MIST)
    page = at_station(shop.work, "arm", "ada", "J1")
    assert (300, DepthControl.BY_EYE, Lubricant.MIST) == (page.rpm, page.habit.depth_control, page.habit.lubricant)


def test_nobody_and_no_job_where_they_are_not_known(shop: Shop) -> None:
    """A tablet may remember somebody who left, or a job that was closed."""
    with shop.work.write() as session:
        session.scalars(select(Job).where(Job.code == "J1")).one().is_open = False
    page = at_station(shop.work, "arm", "zoe", "J1")
    assert (None, None) == (page.person, page.job)


def test_an_unknown_station_is_not_found(shop: Shop) -> None:
    """There is no page for it."""
    with pytest.raises(NotFound):
        at_station(shop.work, "nowhere", "ada", "J1")


@ON_BOTH
def test_who_and_what_was_last_here_comes_first(shop: Shop) -> None:
    """People: last here, then operators; jobs: last here, then by the day they are due."""
    assert ["ada", "bo"] == [person.code for person in choices.people(shop.work, "arm")]
    log(shop, person="bo", job="J3", tap="B1")
    assert ["bo", "ada"] == [person.code for person in choices.people(shop.work, "arm")]
    assert ["J3", "J1", "J2"] == [job.code for job in choices.jobs(shop.work, "arm")]


@ON_BOTH
def test_taps_for_a_job_are_the_living_ones_here_or_in_the_crib(shop: Shop) -> None:
    """Not the broken one, not one at another station, not one of another thread; and each type new from the box."""
    log(shop, tap="T1", tap_end=TapEnd.BROKEN)
    fit_tap(shop.work, "T2", "air", "ada")
    found = choices.taps(shop.work, "arm", "J1", 250, None, 48)
    assert (["T3"], ["M8 SP"]) == ([tap.code for tap in found.used], [new.code for new in found.new])


def test_least_risk_comes_first(shop: Shop) -> None:
    """Where taps broke when old, a fresh one goes before a used one."""
    for at, tap in ((60, "T1"), (80, "T2")):
        log(shop, tap=tap, holes=at, tap_end=TapEnd.BROKEN, broke_at_hole=at)
    log(shop, tap="T3", holes=40)
    fit_new(shop.work, "M8 SP", "arm", "ada")
    used = choices.taps(shop.work, "arm", "J1", 250, None, 20).used
    assert 0 == used[0].holes
    assert sorted(used, key=lambda tap: tap.risk.upper if tap.risk else 1) == list(used)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("M8", "M8x1.25", True),
        ("1/2-13", "1/2-13 UNC", True),
        ("M8", "M8x1", False),
        ("odd", "ODD", True),
        (None, "M8", False),
    ],
)
def test_threads_are_compared_by_what_they_mean(one: str | None, other: str, same: bool) -> None:
    """However they are written."""
    assert same is same_thread(one, other)


def test_a_tap_of_another_thread_cannot_be_fitted(shop: Shop) -> None:
    """The message names both threads."""
    with pytest.raises(InputError, match="B1 cuts 1/2-13; fit a tap for M8"):
        fit(shop.work, "B1", "arm", "J1", "ada")


def test_a_batch_in_which_a_tap_broke_leaves_its_rest(shop: Shop) -> None:
    """Batch of 48, broken at 27: the run has 27 holes, 21 are left under the same batch."""
    typed = broken()
    kept = log_batch(shop.work, typed, offered=48)
    with shop.work.read() as session:
        run = session.get_one(Run, kept.run_id)
        assert (27, 27, 21, True) == (run.holes, run.broke_at_hole, kept.rest, kept.needs_tap)
    assert (str(kept.batch_id), kept) == (typed["batch_id"], log_batch(shop.work, typed, offered=48))


def test_a_break_at_an_unknown_hole_keeps_the_upper_limit(shop: Shop) -> None:
    """48 holes at most; the rest is not known."""
    kept = log_batch(shop.work, broken(broke_at_hole="", hole_not_known=True), offered=48)
    with shop.work.read() as session:
        run = session.get_one(Run, kept.run_id)
        assert (48, None, None) == (run.holes, run.broke_at_hole, kept.rest)


@pytest.mark.parametrize("told", [{"broke_at_hole": "27", "hole_not_known": True}, {"broke_at_hole": " "}])
def test_the_hole_of_a_break_is_told_one_way(sqlite_shop: Shop, told: dict[str, object]) -> None:
    """A number or 'not known': never both, never neither."""
    with pytest.raises(InputError) as caught:
        log_batch(sqlite_shop.work, broken(**told), offered=48)
    assert ["broke_at_hole"] == [problem.field for problem in caught.value.problems]


def test_a_story_that_was_taken_back_is_not_kept(sqlite_shop: Shop) -> None:
    """Chosen by mistake, then 'still good': neither fate nor cause is stored."""
    kept = log_batch(sqlite_shop.work, raw(part_fate="scrapped", cause="bottomed"), offered=None)
    with sqlite_shop.work.read() as session:
        assert session.get_one(Run, kept.run_id).part_fate is None


def test_an_entry_can_be_undone_for_a_while(shop: Shop) -> None:
    """As long as the setting says."""
    run = log(shop)
    assert log_entries.entry_of(shop.work, run).can_undo
    shop.clock.move(minutes=31)
    assert not log_entries.entry_of(shop.work, run).can_undo


def test_a_correction_keeps_time_and_batch_and_leaves_the_old_entry_readable(shop: Shop) -> None:
    """Both entries stand in the book, the old one with who, when and why."""
    batch = uuid.uuid4()
    run = log(shop, batch_id=batch)
    at = shop.clock()
    shop.clock.move(hours=2)
    new = log_entries.correct(shop.work, run, raw(holes="46", reason="miscounted"), "bo").run_id
    entries = {entry.id: entry for entry in log_entries.last_entries(shop.work, "arm")}
    old, change = entries[run], entries[run].change
    assert change is not None
    assert ("corrected", "Bo L.", "miscounted") == (old.standing.value, change.by, change.reason)
    assert (46, at, True) == (entries[new].holes, entries[new].ended_at, entries[new].is_correction)
    with shop.work.read() as session:
        assert batch == session.get_one(Run, new).batch_id


@pytest.mark.parametrize(("holes", "expected"), [("48", "3 17"), ("46", None)])
def test_a_correction_keeps_the_holes_of_the_slips_while_they_are_true(
    sqlite_shop: Shop, holes: str, expected: str | None
) -> None:
    """Another note leaves them; another number of holes was not counted live."""
    run = log(sqlite_shop, cutting_slips=2, slip_holes=(3, 17))
    corrected = raw(holes=holes, cutting_slips="2", note="mist was off", reason="told later")
    new = log_entries.correct(sqlite_shop.work, run, corrected, "bo").run_id
    with sqlite_shop.work.read() as session:
        assert expected == session.get_one(Run, new).slip_holes


def test_a_cancelled_entry_says_why(shop: Shop) -> None:
    """It counts no longer and stays in the book."""
    run = log(shop)
    log_entries.cancel(shop.work, run, {"reason": "wrong tablet"}, "ada")
    entry = log_entries.entry_of(shop.work, run)
    assert entry.change is not None
    assert ("cancelled", "wrong tablet") == (entry.standing.value, entry.change.reason)


@pytest.mark.parametrize("reason", ["", "  ", "x" * 2001, "\x00"])
def test_no_change_without_a_reason(sqlite_shop: Shop, reason: str) -> None:
    """Neither a correction nor a cancellation; the message names the field."""
    run = log(sqlite_shop)
    with pytest.raises(InputError, match="reason"):
        log_entries.correct(sqlite_shop.work, run, raw(holes="1", reason=reason), "ada")
    with pytest.raises(InputError, match="reason"):
        log_entries.cancel(sqlite_shop.work, run, {"reason": reason}, "ada")
    assert "saved" == log_entries.entry_of(sqlite_shop.work, run).standing.value


@ON_BOTH
def test_the_newest_entries_are_shown_even_after_a_long_rest(shop: Shop) -> None:
    """Days without work leave the book as it was."""
    run = log(shop)
    shop.clock.move(days=30)
    assert [run] == [entry.id for entry in log_entries.last_entries(shop.work, "arm")]
