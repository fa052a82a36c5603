"""Where taps broke and how often, against small logs counted by hand."""

from __future__ import annotations

import tempfile
import uuid
from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.vocabulary import Cause, PartFate, TapEnd
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.quality.breakage import ON_A_PAGE, Breakage, Period, breakage, incidents
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run
from shopfloor.store import Run, Tap, TapType
from shopfloor.store.queries.log import band_at, counts
from shopfloor.store.queries.output import Tally, day_of, tallies, taps_used
from tests.factories import Shop, reopen_shop
from tests.kept import copied
from tests.services.conftest import ON_BOTH
from tests.services.looking import breaks

SLOW, FAST = "4-6.3 m/min", "6.3-10 m/min"
"""M8 turns at 6.28 m/min at 250 rpm and at 7.54 m/min at 300 rpm."""


def log(shop: Shop, **changes: Any) -> uuid.UUID:
    """Log a run and let an hour pass."""
    stored = log_run(shop.work, shop.entry(**changes))
    shop.clock.move(hours=1)
    return stored.run_id


def break_one(shop: Shop, holes: int = 10, **changes: Any) -> uuid.UUID:
    """Break a fresh M8 tap at its last hole."""
    tap = receive_tap(shop.work, None, "M8 SP", "bo")
    wanted: dict[str, Any] = {"tap": tap, "holes": holes, "broke_at_hole": holes, "tap_end": TapEnd.BROKEN} | changes
    return log(shop, **wanted)


def table(found: Breakage) -> list[tuple[Any, ...]]:
    """The places in short: material, speed, taps, breaks and slips over holes."""
    return [
        (
            place.material_code,
            place.speed_band,
            place.counted.taps,
            (place.counted.breaks.events, place.counted.breaks.holes),
            place.counted.slips and (place.counted.slips.events, place.counted.slips.holes),
        )
        for place in found.places
    ]


def test_an_empty_log_has_no_rate(sqlite_shop: Shop) -> None:
    """Without a hole there is nothing to divide by, and nothing fails."""
    found = breakage(sqlite_shop.work)
    assert (None, (), None) == (found.total, found.places, found.worst)


@ON_BOTH
def test_breaks_and_slips_are_counted_by_material_and_speed(shop: Shop) -> None:
    """Two taps in steel at two speeds, one also in stainless; a run that told no slips is no exposure to them."""
    log(shop, tap="T1", holes=100, cutting_slips=3)
    log(shop, tap="T2", holes=50, cutting_slips=None)
    log(shop, tap="T2", holes=40, cutting_slips=2, tap_end=TapEnd.BROKEN, broke_at_hole=30)
    log(shop, tap="T1", holes=20, cutting_slips=None, rpm=300)
    log(shop, tap="T1", holes=10, cutting_slips=1, job="J2")
    assert [
        ("stainless", SLOW, 1, (0, 10), (1, 10)),
        ("steel", SLOW, 2, (1, 180), (5, 130)),
        ("steel", FAST, 1, (0, 20), None),
    ] == table(breakage(shop.work))


@ON_BOTH
def test_the_total_counts_each_tap_and_hole_once(shop: Shop) -> None:
    """A tap that works in two materials is one tap."""
    log(shop, tap="T1", holes=100, cutting_slips=3)
    log(shop, tap="T1", holes=60, cutting_slips=None, job="J2", tap_end=TapEnd.BROKEN)
    total = breakage(shop.work).total
    assert total is not None
    assert (1, rate_per_1000(1, 160), rate_per_1000(3, 100)) == (total.taps, total.breaks, total.slips)


def test_a_life_of_unknown_age_counts_in_the_rates(shop: Shop) -> None:
    """Nobody knows how many holes were on it, yet it broke here."""
    used = receive_tap(shop.work, "OLD", "M8 SP", "bo", holes_before=None)
    log(shop, tap=used, holes=25, tap_end=TapEnd.BROKEN, broke_at_hole=20, cutting_slips=4)
    assert [("steel", SLOW, 1, (1, 20), (4, 20))] == table(breakage(shop.work))


def test_one_tap_type_alone(shop: Shop) -> None:
    """The filter leaves out the others' holes, also where the log itself is asked."""
    log(shop, tap="T1", holes=100)
    log(shop, tap="B1", holes=30, job="J3", rpm=100)
    for period in Period:
        assert [("steel", SLOW, 1, (0, 100), (0, 100))] == table(breakage(shop.work, "M8 SP", period))


def test_an_unknown_tap_type_is_refused_by_name(sqlite_shop: Shop) -> None:
    """The message names the field and what was asked."""
    with pytest.raises(InputError, match=r"tap type: 'nope' is not in the record"):
        breakage(sqlite_shop.work, "nope")


@pytest.mark.parametrize(("period", "holes"), [(Period.ALL, 111), (Period.YEAR, 11), (Period.QUARTER, 1)])
def test_a_period_reaches_back_from_now(shop: Shop, period: Period, holes: int) -> None:
    """100 holes 400 days ago, 10 holes 300 days ago, 1 hole just now."""
    for count, days_later in ((100, 100), (10, 300), (1, 0)):
        log(shop, holes=count)
        shop.clock.move(days=days_later)
    assert [holes] == [place.counted.breaks.holes for place in breakage(shop.work, period=period).places]


def test_corrected_and_cancelled_runs_leave_the_rates(shop: Shop) -> None:
    """Only what counts is counted, over all time as over a period."""
    wrong = log(shop, holes=500)
    correct_run(shop.work, wrong, shop.entry(holes=50), "a nought too many", "bo")
    cancel_run(shop.work, log(shop, tap="T2", tap_end=TapEnd.BROKEN), "logged twice", "bo")
    for period in (Period.ALL, Period.MONTH):
        assert [("steel", SLOW, 1, (0, 50), (0, 50))] == table(breakage(shop.work, period=period))


def test_a_place_with_few_holes_and_few_breaks_is_thin(sqlite_shop: Shop) -> None:
    """Ten breaks in 1,010 holes: ten holes elsewhere tell nothing, the thousand do."""
    for _ in range(10):
        break_one(sqlite_shop, holes=100)
    log(sqlite_shop, tap="T1", holes=10, job="J2")
    assert {"steel": False, "stainless": True} == {
        p.material_code: p.is_thin for p in breakage(sqlite_shop.work).places
    }


def test_the_worst_place_is_not_one_early_break(sqlite_shop: Shop) -> None:
    """One break in 10 holes is a high rate and says little; ten in 500 are surely bad."""
    for _ in range(10):
        break_one(sqlite_shop, holes=50)
    break_one(sqlite_shop, holes=10, job="J2")
    worst = breakage(sqlite_shop.work).worst
    assert worst is not None
    assert "steel" == worst.material_code


@ON_BOTH
def test_a_break_is_listed_with_its_story(shop: Shop) -> None:
    """Who reads the list need not look elsewhere."""
    log(shop, tap="T1", holes=410)
    log(
        shop, tap="T1", holes=50, broke_at_hole=37, tap_end=TapEnd.BROKEN, cause=Cause.CHIPS_PACKED,
        part_fate=PartFate.SCRAPPED, note="Chips did not clear.",
    )  # fmt: skip
    (broken,) = breaks(incidents(shop.work))
    assert ("T1", "M8 SP", "Structural steel", 250, "Arm 1", "J1", "Bracket") == (
        broken.tap, broken.tap_type, broken.material, broken.rpm, broken.station, broken.job, broken.part,
    )  # fmt: skip
    assert (447, 447, Cause.CHIPS_PACKED, PartFate.SCRAPPED, "Chips did not clear.") == (
        broken.lower, broken.upper, broken.cause, broken.fate, broken.account,
    )  # fmt: skip


def test_a_break_at_an_unknown_hole_is_a_range(shop: Shop) -> None:
    """Somewhere in this batch of 50, 410 before it: after hole 410, up to 460."""
    log(shop, tap="T1", holes=410)
    log(shop, tap="T1", holes=50, tap_end=TapEnd.BROKEN)
    (broken,) = breaks(incidents(shop.work))
    assert (410, 460, Cause.NOT_KNOWN) == (broken.lower, broken.upper, broken.cause)


@ON_BOTH
def test_a_corrected_break_shows_its_newest_story(shop: Shop) -> None:
    """One line, with what is known now."""
    first = break_one(shop, 20, cause=Cause.BOTTOMED)
    broken = breaks(incidents(shop.work))[0]
    again = shop.entry(tap=broken.tap, holes=20, broke_at_hole=15, tap_end=TapEnd.BROKEN, cause=Cause.TOO_FAST)
    correct_run(shop.work, first, replace(again, ended_at=broken.at), "the scrap was looked at", "bo")
    assert [(15, Cause.TOO_FAST)] == [(b.upper, b.cause) for b in breaks(incidents(shop.work))]


def test_a_break_that_was_none_leaves_the_list(shop: Shop) -> None:
    """Corrected to still good, or cancelled: not an incident."""
    first = break_one(shop, 20)
    tap = breaks(incidents(shop.work))[0].tap
    correct_run(shop.work, first, shop.entry(tap=tap, holes=20), "it was another tap", "bo")
    cancel_run(shop.work, break_one(shop), "logged twice", "bo")
    found = incidents(shop.work)
    assert (0, [], ()) == (found.found, breaks(found), found.by_cause)


@ON_BOTH
def test_causes_are_counted_over_the_period_and_filter_the_list(shop: Shop) -> None:
    """The counts stay whole while the list shows one cause; an old break is out of the month."""
    break_one(shop, cause=Cause.LUBRICANT)
    shop.clock.move(days=40)
    for cause in (Cause.TOO_FAST, Cause.BOTTOMED, Cause.BOTTOMED):
        break_one(shop, cause=cause)
    found = incidents(shop.work, Period.MONTH, Cause.TOO_FAST)
    assert ((Cause.BOTTOMED, 2), (Cause.TOO_FAST, 1)) == found.by_cause
    assert (1, [Cause.TOO_FAST]) == (found.found, [b.cause for b in breaks(found)])


def test_long_lists_come_in_pages_newest_first(sqlite_shop: Shop) -> None:
    """A page and one break: the second page holds the oldest."""
    for holes in range(1, ON_A_PAGE + 2):
        break_one(sqlite_shop, holes=holes)
    first, second = incidents(sqlite_shop.work), incidents(sqlite_shop.work, page=2)
    assert (ON_A_PAGE, ON_A_PAGE + 1) == (len(breaks(first)), breaks(first)[0].upper)
    assert ([1], 2) == ([b.upper for b in breaks(second)], second.pages)


def test_a_page_that_is_not_there_is_refused(sqlite_shop: Shop) -> None:
    """The message says which there are."""
    with pytest.raises(InputError, match=r"page: there is no page 2; choose a page from 1 to 1"):
        incidents(sqlite_shop.work, page=2)


def told_by_log(session: Session, since: date | None) -> set[Tally]:
    """Every tally, run by run."""
    found: defaultdict[tuple[int, str], list[Run]] = defaultdict(list)
    for run, thread in session.execute(select(Run, TapType.thread).join(Tap, Tap.id == Run.tap_id).join(Tap.tap_type)):
        is_told = session.scalar(select(Run.id).where(Run.id == run.id, counts(Run))) is not None
        if is_told and (since is None or day_of(run.ended_at) >= since):
            found[run.material_id, band_at(run.rpm, thread)].append(run)
    return {
        Tally(
            place[0],
            place[1],
            len({run.tap_id for run in runs}),
            sum(run.holes_made for run in runs),
            sum(run.tap_end is TapEnd.BROKEN for run in runs),
            sum(run.cutting_slips or 0 for run in runs),
            sum(run.holes_made for run in runs if run.cutting_slips is not None),
        )
        for place, runs in found.items()
    }


runs = st.fixed_dictionaries(
    {
        "tap": st.sampled_from(["T1", "T2", "T3"]),
        "holes": st.integers(1, 60),
        "cutting_slips": st.none() | st.integers(0, 5),
        "tap_end": st.sampled_from([*[TapEnd.STILL_GOOD] * 5, TapEnd.BROKEN, TapEnd.WORN]),
        "job": st.sampled_from(["J1", "J2"]),
        "rpm": st.sampled_from([100, 250, 300]),
    }
)


@settings(max_examples=25)
@given(steps=st.lists(st.tuples(runs, st.booleans(), st.booleans()), max_size=10))
def test_summaries_and_log_agree_on_every_tally(furnished_sqlite: Path, steps: list[tuple[Any, bool, bool]]) -> None:
    """Whatever was logged, corrected and cancelled: the whole log and its last days count the same by either way."""
    with tempfile.TemporaryDirectory() as folder:
        shop = reopen_shop(copied(furnished_sqlite, Path(folder, "shop.sqlite")), Path(folder))
        for what, is_corrected, is_cancelled in steps:
            _take(shop, what, is_corrected=is_corrected, is_cancelled=is_cancelled)
            shop.clock.move(hours=7)
        with shop.work.read() as session:
            for since in (None, day_of(shop.clock()), day_of(shop.clock() - timedelta(days=1))):
                assert told_by_log(session, since) == {*tallies(session, None, since)}
            taps = select(Run.tap_id).where(counts(Run)).distinct()
            assert taps_used(session, None, None) == len(session.scalars(taps).all())
        shop.work.engine.dispose()


def _take(shop: Shop, what: dict[str, Any], *, is_corrected: bool, is_cancelled: bool) -> None:
    """Log a run, perhaps correct and cancel it; what the log cannot hold is refused and leaves nothing."""
    is_broken = what["tap_end"] is TapEnd.BROKEN
    entry = shop.entry(**what, broke_at_hole=what["holes"] // 2 or None if is_broken else None)
    shop.clock.move(minutes=1)
    try:
        log_run(shop.work, entry)
        if is_corrected:
            newer = replace(
                entry, id=uuid.uuid4(), holes=entry.holes + 1, ended_at=entry.ended_at + timedelta(seconds=1)
            )
            correct_run(shop.work, entry.id, newer, "miscounted", "bo")
            entry = newer
        if is_cancelled:
            cancel_run(shop.work, entry.id, "not ours", "bo")
    except InputError:
        return
