"""Numbers as people type them: a comma is a mark of decimals, and never silently one of thousands."""

from __future__ import annotations

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.reading import Reader
from shopfloor.core.units import Units


def length(text: str, units: Units = Units.METRIC, *, most_mm: float = 500.0) -> float | None:
    """The length that a field holds, in mm."""
    reader = Reader({"depth": text})
    found = reader.length("depth", 0.1, most_mm, units)
    reader.finish()
    return found


@pytest.mark.parametrize(("text", "mm"), [("1,5", 1.5), ("1.5", 1.5), ("12", 12), ("9,525", 9.525), ("0,125", 0.125)])
def test_a_comma_and_a_point_are_read_alike(text: str, mm: float) -> None:
    """1,5 is one and a half in every language, and never fifteen."""
    assert mm == length(text)


@pytest.mark.parametrize(("text", "mm"), [("0.5", 12.7), ("0,5 in", 12.7), ('0.5"', 12.7), ("12,5mm", 12.5)])
def test_a_unit_may_stand_after_the_number(text: str, mm: float) -> None:
    """Else the number is in the units of the drawing; an inch is 25.4 mm."""
    assert mm == pytest.approx(length(text, Units.INCH))


def test_what_could_be_thousands_too_is_refused() -> None:
    """Only where the field could hold both; the message names both."""
    with pytest.raises(InputError, match=r"'1,500' can be read in two ways; write 1\.5 or 1500"):
        length("1,500", most_mm=2000)
    assert 1.5 == length("1,500")


@pytest.mark.parametrize(("typed", "offered"), [("1,250", r"1\.25 or 1250"), ("1,234", r"1\.2340 or 1234")])
def test_what_is_offered_instead_cannot_be_taken_for_thousands(typed: str, offered: str) -> None:
    """Three decimals behind a point are thousands where people write a comma before decimals."""
    with pytest.raises(InputError, match=f"write {offered}"):
        length(typed, most_mm=2000)


@pytest.mark.parametrize("text", ["1.500,5", "1,5,5", "1 5", "5 cm", "a", "-1", "1e3", "1.5 in in"])
def test_what_is_no_number_is_refused(text: str) -> None:
    """Nothing is guessed at."""
    with pytest.raises(InputError, match="is no number"):
        length(text)


def test_a_count_takes_digits_only() -> None:
    """1,500 holes could be one and a half; nobody drills that, and nobody knows."""
    reader = Reader({"holes": "1,500"})
    assert reader.whole("holes", 1, 5000) is None
    assert ["'1,500' is no whole number"] == [problem.what for problem in reader.problems]
