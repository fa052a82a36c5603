"""A count and its noun agree."""

from __future__ import annotations

import pytest

from shopfloor.core.counting import counted


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
