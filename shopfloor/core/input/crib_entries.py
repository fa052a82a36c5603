"""What the tool crib books: deliveries, movements, counts, gauge checks, and the corrections of these."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo

from shopfloor.core.input.codes import code_key, read_code
from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NOTE
from shopfloor.core.input.signature import NO_ID, Signed, signature
from shopfloor.core.input.tap_entry import read_holes_before
from shopfloor.core.phrases import counted, phrase
from shopfloor.core.vocabulary import GaugeResult, MovementKind

MOST_AT_ONCE = 1000
"""Taps of one delivery or one box; more is taken to be a typing error."""
BOX_KINDS = (MovementKind.COUNTED, MovementKind.SCRAPPED, MovementKind.LOST)
_SEPARATORS = re.compile(r"[\n,;]+")
_LONGEST_LIST = MOST_AT_ONCE * (LONGEST_CODE + 1)


@dataclass(frozen=True)
class GaugeEntry:
    """A gauge check as typed."""

    id: uuid.UUID
    result: GaugeResult
    person: str
    note: str | None


@dataclass(frozen=True)
class MoveEntry:
    """A movement as typed; `number` matters only for unmarked taps in the box."""

    id: uuid.UUID
    movement: MovementKind
    person: str
    note: str | None
    number: int


@dataclass(frozen=True)
class Delivery:
    """A delivery of one type: a number of unmarked taps, or taps with these codes.

    `holes_before` as for a tap: 0 none, None unknown. Taps that are not new get codes if they have none.
    """

    id: uuid.UUID
    tap_type: str
    number: int
    codes: tuple[str, ...] = ()
    holes_before: int | None = 0
    lot: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class CheckChange:
    """The corrected check, under a new id."""

    id: uuid.UUID
    result: GaugeResult
    checked_at: datetime
    note: str | None = None


@dataclass(frozen=True)
class MoveChange:
    """The corrected movement, under a new id.

    `station`: where a tap was fitted; `number`: how many unmarked taps came in, left or were counted.
    """

    id: uuid.UUID
    moved_at: datetime
    note: str | None = None
    station: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class ShownTime:
    """The time of an entry as its form shows it, and what a new one is read by.

    Attributes
    ----------
    at       the time on record
    typed    how the form shows it; left like that, it keeps the seconds that are not shown
    zone     the shop's time zone
    now      the present
    """

    at: datetime
    typed: str
    zone: tzinfo
    now: datetime


def read_gauge(raw: Mapping[str, object]) -> GaugeEntry:
    """A gauge check: id, result, person, note.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, person, note = _common(reader)
    result = reader.word("result", GaugeResult, required=True)
    reader.finish()
    return GaugeEntry(id_, result or GaugeResult.FAILED, person, note)


def read_move(raw: Mapping[str, object]) -> MoveEntry:
    """A movement of one tap: id, movement, person, note.

    Raises
    ------
    InputError    every problem found
    """
    return _move(Reader(raw), number=1)


def read_box(raw: Mapping[str, object]) -> MoveEntry:
    """A count, or unmarked taps that leave: id, movement, number, person, note.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    number = reader.whole("number", 0, MOST_AT_ONCE, required=True)
    kind = reader.word("movement", MovementKind)
    if kind is not None and kind not in BOX_KINDS:
        reader.problem("movement", phrase("'{kind}' is not booked here", kind=kind.value), "choose one that is listed")
    return _move(reader, number or 0)


def read_delivery(raw: Mapping[str, object]) -> tuple[Delivery, str]:
    """A delivery and who books it: id, tap_type, codes, number, lot, used, holes_before, person, note.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, person, note = _common(reader)
    tap_type = reader.text("tap_type", longest=LONGEST_CODE, required=True)
    codes = _codes(reader)
    number = reader.whole("number", 1, MOST_AT_ONCE, required=not codes)
    if codes and number not in (None, len(codes)):
        reader.problem(
            "number",
            phrase("{taps} but {codes}", taps=counted(number, "tap"), codes=counted(len(codes), "code")),
            "leave the number empty, or make both agree",
        )
    lot = read_code(reader, "lot", longest=LONGEST_CODE)
    holes_before = read_holes_before(reader)
    reader.finish()
    return Delivery(id_, tap_type or "", number or len(codes), codes, holes_before, lot, note), person


def read_check_change(raw: Mapping[str, object], shown: ShownTime) -> tuple[CheckChange, Signed]:
    """What a check should have said: id, result, checked_at, note, person, reason.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, result = reader.identity("id", required=True), reader.word("result", GaugeResult, required=True)
    at, note = _moment(reader, "checked_at", raw, shown), reader.text("note", longest=LONGEST_NOTE)
    signed = signature(reader)
    reader.finish()
    return CheckChange(id_ or NO_ID, result or GaugeResult.FAILED, at, note), signed


def read_move_change(
    raw: Mapping[str, object], shown: ShownTime, number_before: int | None
) -> tuple[MoveChange, Signed]:
    """What a movement should have said: id, moved_at, station, number, note, person, reason.

    Parameters
    ----------
    raw              as typed
    shown            the time of the movement
    number_before    how many unmarked taps it says so far; None where it is of a single tap

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, at = reader.identity("id", required=True), _moment(reader, "moved_at", raw, shown)
    station = reader.text("station", longest=LONGEST_CODE)
    is_box = number_before is not None
    number = reader.whole("number", 0, MOST_AT_ONCE, required=True) if is_box else None
    note, signed = reader.text("note", longest=LONGEST_NOTE), signature(reader)
    reader.finish()
    return MoveChange(id_ or NO_ID, at, note, station, None if number == number_before else number), signed


def _moment(reader: Reader, field: str, raw: Mapping[str, object], shown: ShownTime) -> datetime:
    """The time that was typed; one left as it was shown keeps the seconds that the page does not show."""
    if str(raw.get(field, "")).strip() == shown.typed:
        return shown.at
    return reader.moment(field, shown.zone, shown.now, required=True) or shown.at


def _move(reader: Reader, number: int) -> MoveEntry:
    id_, person, note = _common(reader)
    kind = reader.word("movement", MovementKind, required=True)
    reader.finish()
    return MoveEntry(id_, kind or MovementKind.COUNTED, person, note, number)


def _common(reader: Reader) -> tuple[uuid.UUID, str, str | None]:
    id_ = reader.identity("id", required=True)
    person = reader.text("person", longest=LONGEST_CODE, required=True)
    return id_ or NO_ID, person or "", reader.text("note", longest=LONGEST_NOTE)


def _codes(reader: Reader) -> tuple[str, ...]:
    text = (reader.text("codes", longest=_LONGEST_LIST) or "").replace("\r", "\n")
    codes = tuple(code.strip() for code in _SEPARATORS.split(text) if code.strip())
    keys = [code_key(code) for code in codes]
    doubled = next((code for n, code in enumerate(codes) if keys[n] in keys[:n]), None)
    if doubled is not None:
        reader.problem(
            "codes", phrase("'{doubled}' appears twice", doubled=doubled[:LONGEST_CODE]), "give each tap its own code"
        )
    if len(codes) > MOST_AT_ONCE:
        reader.problem(
            "codes",
            phrase("{codes} codes are too many", codes=len(codes)),
            phrase("give at most {most_at_once} at once", most_at_once=MOST_AT_ONCE),
        )
    return codes
