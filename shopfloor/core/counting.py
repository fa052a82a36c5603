"""Counts with their nouns, worded once for the terminal and the pages."""

from __future__ import annotations

from shopfloor.core.phrases import Phrase, phrase_of


def counted(number: float, one: str, many: str | None = None) -> Phrase:
    """A count with its noun in the right number: '1 tap', '2,000 taps', '0 batches' (`many` where no 's' will do)."""
    whole = round(number)
    return phrase_of(whole, f"{{number}} {one}", f"{{number}} {many or f'{one}s'}", number=whole)
