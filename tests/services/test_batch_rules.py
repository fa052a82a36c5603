"""The rules of a batch that a tablet follows too, by the cases that both are held to."""

from __future__ import annotations

from uuid import UUID

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.input.run_entry import FASTEST_RPM, MOST_SLIPS_A_HOLE
from shopfloor.core.input.station_entry import read_station_run
from shopfloor.core.vocabulary import Confirmed, TapEnd
from shopfloor.services.station.page import at_station, limits_at_station, log_batch
from tests.batch_rules import BREAKS, ENDS, FASTEST, LARGEST, LIMITS, SINCE, SLIPS_A_HOLE, Entry
from tests.factories import Shop
from tests.services.batches import log, raw


def wrong(shop: Shop, typed: dict[str, object]) -> list[str]:
    """The fields with which something is wrong, each once."""
    try:
        read_station_run(typed, limits_at_station(shop.work))
    except InputError as error:
        return sorted({problem.field for problem in error.problems})
    return []


@pytest.mark.parametrize(("typed", "fields"), BREAKS)
def test_of_a_broken_tap_the_hole_is_told_or_said_to_be_unknown(
    sqlite_shop: Shop, typed: dict[str, str], fields: list[str]
) -> None:
    """One of the two, and what became of the part."""
    assert fields == wrong(sqlite_shop, raw(tap_end="broken") | typed)


@pytest.mark.parametrize(("typed", "fields"), LIMITS)
def test_numbers_keep_to_the_limits(sqlite_shop: Shop, typed: dict[str, str], fields: list[str]) -> None:
    """Those that the cases stand for are the tool's own."""
    assert (LARGEST, FASTEST, SLIPS_A_HOLE) == (
        sqlite_shop.work.settings.largest_batch,
        FASTEST_RPM,
        MOST_SLIPS_A_HOLE,
    )
    assert fields == wrong(sqlite_shop, raw() | typed)


def test_the_cases_hold_every_way_a_tap_can_end() -> None:
    """In the words of the trade."""
    assert {end.value: end.label.lower() for end in TapEnd} == {value: words for value, (words, _) in ENDS.items()}


@pytest.mark.parametrize(("end", "needs_tap"), [(end, is_over) for end, (_, is_over) in ENDS.items()])
def test_a_tap_that_ended_needs_another(sqlite_shop: Shop, end: str, *, needs_tap: bool) -> None:
    """And only one that is still good goes on."""
    broken = {"broke_at_hole": "27", "part_fate": "good"} if end == "broken" else {}
    assert needs_tap == log_batch(sqlite_shop.work, raw(tap_end=end, **broken), offered=None).needs_tap


@pytest.mark.parametrize(("before", "since", "expected"), SINCE)
def test_the_last_batch_and_what_is_left_follow_from_the_runs(
    sqlite_shop: Shop, before: list[Entry], since: list[Entry], expected: tuple[int | None, int]
) -> None:
    """Those of the job, at the station and elsewhere."""
    for station, batch, holes, is_confirmed in [*before, *since]:
        confirmed = (Confirmed.HOLES,) if is_confirmed else ()
        rpm = 350 if station == "air" else 250
        log(sqlite_shop, station=station, rpm=rpm, batch_id=UUID(batch), holes=holes, confirmed=confirmed)
    habit = at_station(sqlite_shop.work, "arm", "ada", "J1").habit
    assert expected == (habit.last_batch, habit.usual.left)
