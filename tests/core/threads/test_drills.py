"""Drills and percentages against handbook tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.drill_series import find_drill, standard_drills
from shopfloor.core.threads.drills import tap_drills, usual_drill
from shopfloor.core.threads.percent import drill_for_percent, percent_of_thread, wanted_percent
from shopfloor.core.threads.series import Designation
from shopfloor.core.threads.text import standard_threads
from shopfloor.core.vocabulary import IsoGroup
from tests.core.threads.strategies import parallel_threads, plain_threads, sixty_degree_threads
from tests.published.threads import GAUGE, TAP_DRILLS_INCH, TAP_DRILLS_METRIC, Row, size_of

NPT_DRILLS = {"1/4": "7/16", "3/8": "37/64", "1/2": "23/32", "3/4": "59/64", "1": "1 5/32", "1 1/4": "1 1/2",
              "1 1/2": "1 47/64", "2": "2 7/32", "2 1/2": "2 5/8",
              "3": "3 1/4", "3 1/2": "3 3/4", "4": "4 1/4"}  # fmt: skip
"""Read in a public table of NPT threads."""


@pytest.mark.parametrize("row", GAUGE, ids=lambda row: row["drill"])
def test_number_and_letter_drills(row: Row) -> None:
    """ASME B94.11M, to the ten-thousandth."""
    assert float(row["diameter_in"]) == pytest.approx(find_drill(row["drill"]).diameter_in, abs=1e-7)


@pytest.mark.parametrize("row", TAP_DRILLS_INCH, ids=size_of)
def test_handbook_drills_in_inches(row: Row) -> None:
    """The handbook's drill is offered first, with the handbook's percentage."""
    first = tap_drills(parse(row["size"]))[0]
    assert (row["drill"], True) == (first.drill.name, first.is_usual)
    assert float(row["drill_in"]) == pytest.approx(first.drill.diameter_in)
    assert float(row["percent_thread_1299"]) == pytest.approx(first.percent, abs=0.011)
    assert float(row["percent_printed"]) == pytest.approx(first.percent, abs=0.55)


@pytest.mark.parametrize("row", TAP_DRILLS_METRIC, ids=size_of)
def test_handbook_drills_in_millimetres(row: Row) -> None:
    """ISO 2306's drill first; its hole lies inside the 6H limits."""
    first = tap_drills(parse(row["size"]))[0]
    assert (float(row["drill_mm"]), row["inside_6H_minor_limits"]) == (
        first.drill.diameter_mm,
        str(first.is_within_limits),
    )
    assert float(row["percent_thread_1299"]) == pytest.approx(first.percent, abs=0.011)


@pytest.mark.parametrize(("size", "name"), NPT_DRILLS.items())
def test_npt_drills(size: str, name: str) -> None:
    """The table's drill alone, without a percentage."""
    (only,) = tap_drills(parse(f"{size} NPT"))
    assert (name, None) == (only.drill.name, only.percent)


def test_forming_hole_of_a_worked_example() -> None:
    """1/2-13 at 65 %: 0.4660 in (public calculator of form-tap drills)."""
    assert 0.4660 == pytest.approx(float(drill_for_percent(parse("1/2-13"), 65, forming=True)) / 25.4, abs=5e-5)


@given(parallel_threads, st.floats(0.1, 100), st.booleans())
def test_percent_undoes_drill(thread: Designation, percent: float, forming: bool) -> None:
    """percent(drill(p)) is p, and the hole falls as the percentage rises."""
    forming = forming and not thread.series.is_pipe
    hole = drill_for_percent(thread, percent, forming=forming)
    assert percent == pytest.approx(float(percent_of_thread(thread, hole, forming=forming)), abs=1e-9)
    assert hole < drill_for_percent(thread, 0.99 * percent, forming=forming)


@given(sixty_degree_threads, st.floats(40, 90), st.booleans())
def test_the_drill_that_is_asked_for_is_the_nearest(thread: Designation, percent: float, forming: bool) -> None:
    """No drill of the thread's own unit lies nearer; a forming tap has the larger hole."""
    first = tap_drills(thread, percent, forming=forming)[0].drill
    hole = float(drill_for_percent(thread, percent, forming=forming))
    own = [d for d in standard_drills() if d.is_inch == thread.is_inch and d.diameter_mm < thread.major_mm]
    assert min(abs(d.diameter_mm - hole) for d in own) == pytest.approx(abs(first.diameter_mm - hole), abs=2e-6)
    assert drill_for_percent(thread, percent) < drill_for_percent(thread, percent, forming=True)


@given(plain_threads)
def test_every_thread_is_answered(thread: Designation) -> None:
    """Drills with finite percentages, usual first, none twice; or none, which is to bore."""
    drills = tap_drills(thread)
    assert len(drills) == len({choice.drill for choice in drills})
    assert all(choice.percent is None or math.isfinite(choice.percent) for choice in drills)
    assert not drills or usual_drill(thread) in (None, drills[0].drill)


def test_only_large_pipe_threads_are_bored() -> None:
    """Everything else has a drill."""
    bored = {thread.series.value for thread in standard_threads() if not tap_drills(thread)}
    assert {"G", "NPT"} == bored


@pytest.mark.parametrize(
    ("typed", "name"), [("No. 7", "#7"), ("letter f", "F"), ("5/16 in", "5/16"), ("6,8", "6.8 mm")]
)
def test_drills_as_people_type_them(typed: str, name: str) -> None:
    """Each series has its way."""
    assert name == find_drill(typed).name


@given(st.text(max_size=40))
def test_any_text_is_a_drill_or_told_what_is_right(text: str) -> None:
    """Never anything but a problem with a remedy."""
    try:
        drill = find_drill(text)
    except InputError as error:
        told = [problem.remedy for problem in error.problems]
    else:
        told = [drill.name]
    assert all(told)


@pytest.mark.parametrize(
    ("thread", "drill", "right"), [("M8", 8, "below 8 mm"), ("M8", 0, "above 0"), ("1/8 NPT", 5, "usual drill")]
)
def test_holes_that_cannot_be(thread: str, drill: float, right: str) -> None:
    """The message says what would be right."""
    with pytest.raises(InputError, match=right):
        percent_of_thread(parse(thread), drill)


@pytest.mark.parametrize("percent", [0, -5, 101, math.nan, math.inf])
def test_percentages_that_cannot_be(percent: float) -> None:
    """The range is named."""
    with pytest.raises(InputError, match="above 0 and up to 100"):
        tap_drills(parse("M8"), percent)


@given(st.sampled_from(list("NKPMSH")), st.floats(0.1, 5), st.floats(0, 3), st.booleans())
def test_deeper_and_harder_want_less(letter: str, depth: float, more: float, forming: bool) -> None:
    """Common practice: never more percentage in a deeper hole, and a reason with numbers."""
    group = IsoGroup[letter]
    if forming and letter in "KH":
        with pytest.raises(InputError, match="cutting tap"):
            wanted_percent(group, depth, forming=True)
        return
    wanted = wanted_percent(group, depth, forming=forming)
    assert 50 <= wanted_percent(group, depth + more, forming=forming).percent <= wanted.percent <= 75
    assert f"{wanted.percent:g} %" in wanted.reason
