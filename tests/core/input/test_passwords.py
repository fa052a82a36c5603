"""PINs and passwords that may be chosen, and the waits after wrong ones."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopfloor.core.input.passwords import problems_of_password, problems_of_pin, wait_after, wait_of_a_stranger


@pytest.mark.parametrize("pin", ["271828", "1357", "90210", "12341234"])
def test_a_pin_that_may_be_used(pin: str) -> None:
    """4 to 8 digits."""
    assert [] == problems_of_pin(pin, 4)


@pytest.mark.parametrize("pin", ["", "123", "27182", "271828182", "27182a", "২৭১৮২৮", "000000", "123456", "987654"])
def test_a_pin_that_may_not_be_used(pin: str) -> None:
    """Too short for the shop, too long, no digits, all alike, in a row."""
    assert ["secret"] == [problem.field for problem in problems_of_pin(pin, 6)]


@pytest.mark.parametrize("password", ["27182818", "four words of mine", "x" * 50 + "yz"])
def test_a_password_that_may_be_used(password: str) -> None:
    """At least 8 characters; digits alone will do (OWASP ASVS 5.0, 6.2.1 and 6.2.9)."""
    assert [] == problems_of_password(password, ("femi", "Femi A."))


@pytest.mark.parametrize(
    "password", ["2718281", "x" * 129, "11111111", "12345678", "Password9", "femi2026!", "abababab"]
)
def test_a_password_that_may_not_be_used(password: str) -> None:
    """Too short, too long, of one or two characters, in a row, the word itself, the person's own name."""
    assert ["secret"] == [problem.field for problem in problems_of_password(password, ("femi", "Femi A."))]


def test_waits_grow_and_end() -> None:
    """Four attempts are free; then 30 s, 1, 2 and 5 minutes, never more: nobody is locked out for ever."""
    waits = [wait_after(wrong) for wrong in range(11)]
    assert [timedelta(0)] * 5 == waits[:5]
    assert [30, 60, 120, 300, 300, 300] == [wait.total_seconds() for wait in waits[5:]]


def test_a_stranger_waits_where_many_guess() -> None:
    """Two addresses alone make nobody wait elsewhere; many do, for a quarter of an hour at most."""
    waits = [wait_of_a_stranger(wrong).total_seconds() / 60 for wrong in (0, 38, 40, 41, 81, 161, 10**6)]
    assert [0, 0, 0, 1, 5, 15, 15] == waits
