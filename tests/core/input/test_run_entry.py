"""One reading for every way in: what a run must hold, and what bad input is told."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.input.run_entry import AT_THE_STATION, FROM_A_FILE, FROM_A_TABLET, EntryLimits, read_run
from shopfloor.core.vocabulary import PartFate, TapEnd

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
FILE = EntryLimits(NOW, UTC, 5000, FROM_A_FILE)
GOOD = {
    "id": "0197b2c4-8a00-7000-8000-000000000001",
    "when": "2026-05-04",
    "tap": "T1",
    "material": "mild steel",
    "rpm": "250",
    "holes": "48",
    "tap_end": "still good",
}


def problems(limits: EntryLimits = FILE, **changes: Any) -> dict[str, str]:
    """Sentence by field that a run with these changes is told."""
    with pytest.raises(InputError) as caught:
        read_run(GOOD | changes, limits)
    return {problem.field: problem.sentence() for problem in caught.value.problems}


def test_a_good_row() -> None:
    """Every value arrives with its type."""
    run = read_run(GOOD, FILE)
    assert (uuid.UUID(GOOD["id"]), 250, 48) == (run.id, run.rpm, run.holes)
    assert (datetime(2026, 5, 4, tzinfo=UTC), TapEnd.STILL_GOOD) == (run.ended_at, run.tap_end)


@pytest.mark.parametrize("holes", ["0", "-4", "1000000000", 0, -1, 10**9, 10**30])
def test_holes_out_of_range(holes: object) -> None:
    """A batch holds at least one hole and no more than the shop allows."""
    assert "from 1 to 5,000" in problems(holes=holes)["holes"]


@pytest.mark.parametrize(
    "holes", ["", "  ", None, "1,5", "1.5", "48 ", "4 8", "١٢", "1_000", "0x10", "🙂", "nan", "1e3", True, 1.5, [], {}]
)
def test_holes_that_are_no_whole_number(holes: object) -> None:
    """Only digits are read: '1,5' must never become 15. (Blanks around are forgiven.)"""
    if holes == "48 ":
        assert 48 == read_run(GOOD | {"holes": holes}, FILE).holes
    else:
        assert "whole number" in problems(holes=holes)["holes"] or "digits" in problems(holes=holes)["holes"]


def test_a_json_number_with_a_zero_fraction_is_whole() -> None:
    """JSON writers may send 48.0."""
    assert 48 == read_run(GOOD | {"holes": 48.0}, FILE).holes


@pytest.mark.parametrize(
    ("when", "told"),
    [
        ("2026-06-02", "lies in the future"),
        ("1979-12-31", "too long ago"),
        ("31/05/2026", "not a date"),
        ("", "missing"),
    ],
)
def test_times_that_cannot_be(when: str, told: str) -> None:
    """A date in the future, before the age of logs, or in another order is named."""
    assert told in problems(when=when)["when"]


def test_a_tablet_clock_may_be_a_little_ahead() -> None:
    """Tablet clocks drift by minutes."""
    when = (NOW + timedelta(minutes=5)).isoformat()
    assert NOW + timedelta(minutes=5) == read_run(GOOD | {"when": when}, FILE).ended_at


def test_the_break_must_lie_in_the_batch() -> None:
    """The break hole counts within this run."""
    told = problems(tap_end="broken", broke_at_hole="49")["broke_at_hole"]
    assert "broke at hole: 49 lies beyond the batch of 48; give a hole from 1 to 48, or none" == told


def test_only_a_broken_tap_has_a_break_hole() -> None:
    """A contradiction is not stored."""
    assert "did not break" in problems(broke_at_hole="12")["broke_at_hole"]


def test_other_spellings_of_the_end_are_known() -> None:
    """People write 'good', 'broke' or 'Changed in time'."""
    ends = [read_run(GOOD | {"tap_end": text}, FILE).tap_end for text in ("Good", "BROKE", "Changed in time", "dull")]
    assert [TapEnd.STILL_GOOD, TapEnd.BROKEN, TapEnd.RETIRED_EARLY, TapEnd.WORN] == ends


def test_all_problems_are_told_at_once() -> None:
    """Nobody corrects a form five times."""
    assert {"tap", "rpm", "holes", "tap_end", "id"} == set(problems(tap="", rpm="x", holes="", tap_end="gone", id="7"))


def test_the_row_is_named() -> None:
    """In a file each message names row and column."""
    with pytest.raises(InputError, match="row 7, tap end: 'gone' is not known"):
        read_run(GOOD | {"tap_end": "gone"}, FILE, row=7)


def test_a_broken_tap_at_the_station_needs_the_parts_fate() -> None:
    """What happened to the part is asked while the incident is fresh; a file may not know it."""
    station = EntryLimits(NOW, UTC, 5000, AT_THE_STATION, device_sets_time=False)
    told = problems(station, person="ada", station="arm-1", job="J1", tap_end="broken")
    assert {"part_fate"} == set(told)
    assert read_run(GOOD | {"tap_end": "broken"}, FILE).part_fate is None
    kept = read_run(GOOD | {"tap_end": "broken", "part_fate": "scrapped"}, FILE)
    assert PartFate.SCRAPPED is kept.part_fate


def test_at_the_station_the_servers_clock_counts() -> None:
    """A tablet's wrong clock does not move a batch; its own time is kept beside."""
    station = EntryLimits(NOW, UTC, 5000, AT_THE_STATION, device_sets_time=False)
    raw = GOOD | {"person": "ada", "station": "arm-1", "job": "J1", "when": "2031-01-01", "device_time": "2031-01-01"}
    run = read_run(raw, station)
    assert (NOW, "2031-01-01", True) == (run.ended_at, run.device_time, run.is_clocked_here)


def test_a_tablet_must_say_when() -> None:
    """An entry that waited offline carries its own time."""
    tablet = EntryLimits(NOW, UTC, 5000, FROM_A_TABLET)
    assert "when" in problems(tablet, when=None, person="ada", station="arm-1", job="J1")


@pytest.mark.parametrize("text", ["a\x00b", "\ud800", "\x1b[31m"])
def test_text_that_no_database_can_keep(text: str) -> None:
    """Control characters and half characters are refused by name; a smile is fine."""
    assert "cannot be stored" in problems(note=text)["note"]
    assert "🙂" == read_run(GOOD | {"note": "🙂"}, FILE).note


def test_too_long_text() -> None:
    """The limit is named."""
    assert "at most 2,000" in problems(note="x" * 2001)["note"]
    assert "at most 64" in problems(tap="x" * 65)["tap"]


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)


@given(st.dictionaries(st.sampled_from([*GOOD, "broke_at_hole", "note", "part_fate", "batch_id"]), anything))
def test_nonsense_never_surprises(changes: dict[str, Any]) -> None:
    """Whatever is sent is either read or refused in words."""
    holes = None
    try:
        holes = read_run(GOOD | changes, FILE).holes
    except InputError as error:
        told = [problem.sentence() for problem in error.problems]
    assert told if holes is None else 1 <= holes <= 5000


@pytest.mark.parametrize(
    ("slips", "at", "expected"),
    [(2, "4 2", (2, (2, 4))), (None, [3, 3], (2, (3, 3))), (0, "", (0, ())), ("1", "7", (1, (7,)))],
)
def test_the_holes_of_slips_tell_their_number(slips: object, at: object, expected: tuple[object, ...]) -> None:
    """As text or as a list, in any order; a hole may slip twice."""
    entry = read_run(GOOD | {"cutting_slips": slips, "slip_holes": at}, FILE)
    assert expected == (entry.cutting_slips, entry.slip_holes)


@pytest.mark.parametrize("at", ["1 2", "49", "0", "one", {"1": 2}, [1.5], "5 " * 501])
def test_holes_of_slips_that_cannot_be(at: object) -> None:
    """Another number than that of the slips, beyond the run, no numbers, far too many."""
    assert ["slip_holes"] == list(problems(cutting_slips=1, slip_holes=at))
