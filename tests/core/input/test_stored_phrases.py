"""What the program wrote into the record by itself is known again when it is told."""

from __future__ import annotations

import pytest

from shopfloor.core.input.stored_phrases import NOT_USED, TAKEN, UNDONE, lot_note, told, told_of_lot
from shopfloor.core.phrases import Phrase

STORED = (
    "undone by the operator",
    "taken without being booked out; a run tells it",
    "the run that told it does not count any more",
)
"""As they stand in records since the first version: changing one would leave old rows untranslated."""


@pytest.mark.parametrize("text", STORED)
def test_old_rows_are_known(text: str) -> None:
    """The text that was stored is the phrase."""
    assert isinstance(told(text), Phrase)
    assert text == told(text)


def test_what_is_stored_now_is_what_was_stored_ever() -> None:
    """No text of the program's own has changed."""
    assert STORED == (UNDONE, TAKEN, NOT_USED)


@pytest.mark.parametrize("text", ["", "wrong tap", "lot of chips in it"])
def test_what_people_wrote_stays_theirs(text: str) -> None:
    """Only whole texts of the program's are its own."""
    assert not isinstance(told(text), Phrase)


@pytest.mark.parametrize(("lot", "note"), [("17", None), ("17", "old box"), (None, "old box"), ("a; b", "c; d")])
def test_a_lot_reads_as_it_was_stored(lot: str | None, note: str | None) -> None:
    """The English is the stored note; only the word for a lot is the program's."""
    stored = lot_note(lot, note)
    assert stored is not None
    assert stored == told_of_lot(stored)
    assert isinstance(told_of_lot(stored), Phrase) == (lot is not None)


def test_nothing_said_is_no_note() -> None:
    """Neither lot nor note."""
    assert lot_note(None, None) is None
