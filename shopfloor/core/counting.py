"""Counts with their nouns, worded once for the terminal and the pages."""

from __future__ import annotations


def counted(number: float, one: str, many: str | None = None) -> str:
    """A count with its noun in the right number: '1 tap', '2,000 taps', '0 batches' (`many` where no 's' will do)."""
    whole = round(number)
    return f"{whole:,} {one if whole == 1 else many or f'{one}s'}"
