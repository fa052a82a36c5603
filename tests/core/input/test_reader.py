"""Numbers as people type them: a comma is a mark of decimals, and never silently one of thousands."""

from __future__ import annotations

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import Reader
from shopfloor.core.units import Units
from tests.numbers_typed import LARGEST, WHOLE


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
    with pytest.raises(InputError, match="is not a number"):
        length(text)


@pytest.mark.parametrize(
    ("mark", "typed", "offered"), [(".", "1,500", "1.5"), (",", "1.500", "1.5"), (",", "1.25", "")]
)
def test_the_mark_that_is_not_the_shops_is_doubted(mark: str, typed: str, offered: str) -> None:
    """The shop's own mark is one of decimals; the other one could part thousands, where three digits follow it."""
    reader = Reader({"depth": typed}, decimal_mark=mark)
    found = reader.length("depth", 0.1, 2000, Units.METRIC)
    assert (found is None) == bool(offered)
    assert [f"write {offered} or 1500"] * bool(offered) == [problem.remedy for problem in reader.problems]
    own = Reader({"depth": typed.replace(".", mark).replace(",", mark)}, decimal_mark=mark)
    assert float(typed.replace(",", ".")) == own.length("depth", 0.1, 2000, Units.METRIC)


@pytest.mark.parametrize(("typed", "read"), WHOLE.items())
def test_a_count_takes_digits_only(typed: str, read: int | str) -> None:
    """1.500 holes could be one and a half or fifteen hundred: never silently either, nor 15."""
    reader = Reader({"holes": typed})
    found = reader.whole("holes", 1, LARGEST)
    assert found == (read if isinstance(read, int) else None)
    told = [f"{problem.what}; {problem.remedy}" for problem in reader.problems]
    asked = "can be read in two ways; write {} if that is meant, or another whole number, with digits only"
    if isinstance(read, str):
        assert (asked.format(read) if read != "no" else "use digits only, from 1 to 5,000") in told[0]


@pytest.mark.parametrize(
    ("typed", "units", "nm"),
    [
        ("12", Units.METRIC, 12),
        ("9", Units.INCH, 12.2023615),
        ("9 ft-lb", Units.METRIC, 12.2023615),
        ("80 in-lbs", Units.METRIC, 9.0387863),
        ("80 lb-in", Units.INCH, 9.0387863),
        ("12,5 N m", Units.INCH, 12.5),
        ("12.5Nm", Units.INCH, 12.5),
    ],
)
def test_a_torque_is_in_the_shops_unit_or_in_its_own(typed: str, units: Units, nm: float) -> None:
    """1 ft-lb is 1.355818 N m, 1 in-lb 0.1129848 N m (NIST SP 811, appendix B)."""
    assert pytest.approx(nm, rel=1e-6) == Reader({"torque": typed}, units=units).torque("torque", 0.1, 2000)


@pytest.mark.parametrize("typed", ["12 kg", "-3", "ft-lb", "5000", "12 ft-lb N m"])
def test_what_is_no_torque_is_refused(typed: str) -> None:
    """With the field named, and nothing taken."""
    reader = Reader({"torque": typed})
    assert reader.torque("torque", 0.1, 2000) is None
    assert ["torque"] == [problem.field for problem in reader.problems]
