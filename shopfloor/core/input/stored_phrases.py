"""Reasons and notes that the program itself writes into the record.

They are stored in English, which must never change, beside what people wrote; whoever shows one passes it through
`told`, so that a page says it in its own language, for rows of any age.
"""

from __future__ import annotations

from shopfloor.core.phrases import Phrase, joined, phrase

UNDONE = phrase("undone by the operator")
TAKEN = phrase("taken without being booked out; a run tells it")
NOT_USED = phrase("the run that told it does not count any more")

_LOT, _BETWEEN = "lot ", "; "
_BY_TEXT: dict[str, Phrase] = {str(one): one for one in (UNDONE, TAKEN, NOT_USED)}


def told(text: str) -> str:
    """A stored reason or note; a phrase where the program wrote it, else what the person wrote."""
    return _BY_TEXT.get(text, text)


def lot_note(lot: str | None, note: str | None) -> str | None:
    """The note of taps received: their lot, then what was typed; None where there is neither."""
    parts = [f"{_LOT}{lot}" if lot else None, note]
    return _BETWEEN.join(part for part in parts if part) or None


def told_of_lot(note: str) -> str:
    """A note of `lot_note`, or any other stored note."""
    lot, between, rest = note.removeprefix(_LOT).partition(_BETWEEN)
    if not note.startswith(_LOT):
        return told(note)
    named = phrase("lot {lot}", lot=lot)
    return joined([named, rest], _BETWEEN) if between else named
