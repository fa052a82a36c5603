"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shopfloor.cli.numbers import short
from shopfloor.core.phrases import counted, length, phrase, rounded, surface_speed, torque
from shopfloor.web.i18n.formats import significant

NUMBERS = st.floats(1e-6, 1e12) | st.integers(1, 10**12).map(float)


@given(NUMBERS, st.integers(1, 6))
@example(99.9, 2)
@example(9.96, 2)
@example(123.0, 2)
def test_no_number_is_written_in_powers_of_ten(number: float, digits: int) -> None:
    """Whoever writes it: no 'e', and the digits are right."""
    for sign in (1, -1):
        value = sign * number
        for told in (rounded(value, digits), significant(value, digits), short(value), phrase("{n}", n=value)):
            assert "e" not in told
        assert float(f"{value:.{digits - 1}e}") == float(rounded(value, digits).replace(",", ""))
        assert value == pytest.approx(float(significant(value, digits).replace(",", "")), rel=0.51 * 10 ** (1 - digits))
        assert value == pytest.approx(float(short(value).replace(",", "")), rel=0.51e-3)


def test_a_number_ends_with_its_last_figure() -> None:
    """No zero stands behind the point; thousands are set apart."""
    assert ["100", "0.0012", "1,200", "2.5", "0", "12"] == [
        rounded(value, 2) for value in (99.9, 0.00123, 1234, 2.5, 0.0, 12.0)
    ]
    assert ["10", "0.50", "123", "1.0"] == [significant(value) for value in (9.96, 0.5, 123.4, 0.999)]
    assert ("inf", "nan", "1e+300", "open") == (*map(rounded, (math.inf, math.nan, 1e300)), short(math.inf))


@given(st.floats(1e-3, 1e7))
def test_nor_is_a_measure(value: float) -> None:
    """Lengths, speeds, torques."""
    for measure in (length(value), surface_speed(value), torque(value)):
        assert "e+" not in measure.replace("m/min", "")


@pytest.mark.parametrize(
    ("words", "number", "nouns"),
    [
        ("0 taps", 0, ("tap",)),
        ("1 tap", 1, ("tap",)),
        ("1 hole", 1.0, ("hole",)),
        ("2,000 taps", 2000, ("tap",)),
        ("2 batches", 2, ("batch", "batches")),
    ],
)
def test_a_count_agrees_with_its_noun(words: str, number: float, nouns: tuple[str, ...]) -> None:
    """One is one, all else is many."""
    assert words == counted(number, *nouns)
