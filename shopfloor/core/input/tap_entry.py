"""A tap that nobody has recorded yet: from the box under its new code, not on any list, or named in a file of runs."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from shopfloor.core.input.reader import Reader, Reading
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.input.signature import NO_ID
from shopfloor.core.phrases import phrase, phrase_of
from shopfloor.core.threads import find_thread
from shopfloor.core.vocabulary import IsoGroup, UsedBefore

MOST_HOLES_BEFORE = 1_000_000
UNKNOWN = "unknown"
"""What a file says where nobody knows how many holes were on the tap."""


@dataclass(frozen=True)
class MarkedTap:
    """A tap from the box, fitted in a station under the code written on it, and by whom."""

    id: uuid.UUID
    code: str
    tap_type: str
    station: str
    person: str


@dataclass(frozen=True)
class UnlistedTap:
    """A tap not on any list. `code` None: it has none yet. `holes_before` 0: it is new, None: unknown."""

    id: uuid.UUID
    code: str | None
    tap_type: str
    holes_before: int | None


@dataclass(frozen=True)
class TapOfRow:
    """What a row of a file of runs says of its tap and material. `holes_before` 0: it was new, None: unknown."""

    tap_type: str
    thread: str | None
    iso_group: IsoGroup | None
    holes_before: int | None


def read_marked_tap(raw: Mapping[str, object]) -> MarkedTap:
    """A tap from the box, as it was sent: id, tap, tap_type, station, person.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_ = reader.identity("id", required=True)
    names = ("tap", "tap_type", "station", "person")
    code, tap_type, station, by = (reader.text(name, longest=LONGEST_CODE, required=True) or "" for name in names)
    reader.finish()
    return MarkedTap(id_ or NO_ID, code, tap_type, station, by)


def read_unlisted_tap(raw: Mapping[str, object]) -> UnlistedTap:
    """A tap not on any list, as it was typed: id, tap, tap_type, used, holes_before.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_ = reader.identity("id", required=True)
    code = reader.text("tap", longest=LONGEST_CODE)
    tap_type = reader.text("tap_type", longest=LONGEST_CODE, required=True)
    holes_before = read_holes_before(reader)
    reader.finish()
    return UnlistedTap(id_ or NO_ID, code, tap_type or "", holes_before)


def read_tap_of_row(cells: Mapping[str, object], row: int) -> Reading[TapOfRow]:
    """What a row of a file of runs says of its tap and material: tap_type, thread, iso_group, holes_before.

    Returns
    -------
    The problems are left to be raised with those that the record finds.
    """
    reader = Reader(cells, row=row)
    tap_type = reader.text("tap_type", longest=LONGEST_CODE, required=True)
    thread = reader.text("thread", longest=LONGEST_CODE)
    group = reader.word("iso_group", IsoGroup)
    holes_before = _holes_of_row(reader)
    if thread is not None and find_thread(thread) is None:
        reader.problem(
            "thread",
            phrase("'{thread}' is not a thread designation", thread=thread),
            "write it like 3/8-16, #10-32 or M8x1",
        )
    return Reading(TapOfRow(tap_type or "", thread, group, holes_before), tuple(reader.problems))


def read_holes_before(reader: Reader) -> int | None:
    """Holes on a tap when it is first recorded, from 'used' and 'holes_before'; None if nobody knows."""
    used = reader.word("used", UsedBefore, required=True)
    number = reader.whole("holes_before", 0, MOST_HOLES_BEFORE, required=used is UsedBefore.NUMBER)
    if used not in (None, UsedBefore.NUMBER) and number:
        what = phrase_of(
            number,
            "{number} hole is given but '{used}' is chosen",
            "{number} holes are given but '{used}' is chosen",
            number=number,
            used=used.label,
        )
        reader.problem("holes_before", what, "choose 'A number', or clear it")
    return {UsedBefore.NONE: 0, UsedBefore.NOT_KNOWN: None}.get(used, number) if used else number


def _holes_of_row(reader: Reader) -> int | None:
    text = reader.text("holes_before", longest=LONGEST_CODE)
    if text is None:
        return 0
    return None if text.casefold() == UNKNOWN else reader.whole("holes_before", 0, MOST_HOLES_BEFORE)
