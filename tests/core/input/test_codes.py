"""When two codes are the same one to people, and which codes could mislead them."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.input.codes import code_key, written_code, wrong_with
from tests.codes_alike import ALIKE, APART


@pytest.mark.parametrize(("one", "other"), ALIKE)
def test_what_looks_alike_has_one_key(one: str, other: str) -> None:
    """However it is composed, wide or small, and whatever stands in it that nobody sees."""
    assert code_key(one) == code_key(other)


@pytest.mark.parametrize(("one", "other"), APART)
def test_what_people_tell_apart_has_two_keys(one: str, other: str) -> None:
    """An accent, a blank and a stroke are seen."""
    assert code_key(one) != code_key(other)


@given(st.text(max_size=30))
def test_a_key_is_its_own_key(code: str) -> None:
    """Neither case, composition nor what is stored of a code moves it any more."""
    key = code_key(code)
    assert key == code_key(key)
    for form in ("NFC", "NFD", "NFKC", "NFKD"):
        assert key == code_key(unicodedata.normalize(form, code))
    assert key == code_key(written_code(code))


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("a\u200bda", "invisible character"),
        ("\u202eada", "invisible character"),
        ("ada\u200e", "invisible character"),
        ("\ue000x", "invisible character"),
        ("x\u3164", "invisible character"),
        ("A\ufe0f", "invisible character"),
        ("x\U000e0041", "invisible character"),
        ("x\u0378", "invisible character"),
        ("\u0430da", "Cyrillic, Latin"),
        ("\u0391da", "Greek, Latin"),
        ("T\u0415ST-1", "Cyrillic, Latin"),
        ("--", "is not a code"),
        ("'", "is not a code"),
        ("\u2014", "is not a code"),
    ],
)
def test_a_code_that_could_mislead_is_told(code: str, told: str) -> None:
    """With what is wrong and what would be right."""
    wrong = wrong_with(code)
    assert wrong is not None
    assert told in wrong[0]
    assert wrong[1]


@pytest.mark.parametrize(
    "code",
    [
        "ada",
        "T0001",
        "1/2-13 SP",
        "B\u00f6chum",
        "\u0430\u0434\u0430",
        "5 \u00b5m",
        "TiN 3\u00b5m",
        "\u7530\u4e2d",
        "<b>",
    ],
)
def test_a_plain_code_of_any_script_is_taken(code: str) -> None:
    """A whole word of one script, digits and marks."""
    assert wrong_with(code) is None
