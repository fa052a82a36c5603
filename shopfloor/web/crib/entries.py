"""The crib's forms read into values that the services take."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from shopfloor.core.input.codes import code_key, read_code
from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NOTE
from shopfloor.core.phrases import counted, phrase
from shopfloor.core.vocabulary import GaugeResult, MovementKind
from shopfloor.services.ledger.gauge_check_corrections import CheckChange
from shopfloor.services.ledger.gauge_checks import CheckOfTap
from shopfloor.services.ledger.movement_corrections import MoveChange, MoveHistory
from shopfloor.services.ledger.movements import BOX_KINDS, MOST_AT_ONCE, Delivery
from shopfloor.services.ledger.taps import read_holes_before
from shopfloor.web.context import work
from shopfloor.web.forms.signature import Signed, signature
from shopfloor.web.i18n.formats import typed_time

_SEPARATORS = re.compile(r"[\n,;]+")
_LONGEST_LIST = MOST_AT_ONCE * (LONGEST_CODE + 1)
_NOWHERE = uuid.UUID(int=0)


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


def read_gauge(raw: Mapping[str, object]) -> GaugeEntry:
    """A gauge check; raises InputError with every problem."""
    reader = Reader(raw)
    id_, person, note = _common(reader)
    result = reader.word("result", GaugeResult, required=True)
    reader.finish()
    return GaugeEntry(id_, result or GaugeResult.FAILED, person, note)


def read_move(raw: Mapping[str, object]) -> MoveEntry:
    """A movement of one tap; raises InputError with every problem."""
    return _move(Reader(raw), number=1)


def read_box(raw: Mapping[str, object]) -> MoveEntry:
    """A count, or unmarked taps that leave; raises InputError with every problem."""
    reader = Reader(raw)
    number = reader.whole("number", 0, MOST_AT_ONCE, required=True)
    kind = reader.word("movement", MovementKind)
    if kind is not None and kind not in BOX_KINDS:
        reader.problem("movement", phrase("'{kind}' is not booked here", kind=kind.value), "choose one that is listed")
    return _move(reader, number or 0)


def read_delivery(raw: Mapping[str, object]) -> tuple[Delivery, str]:
    """A delivery and who books it; raises InputError with every problem."""
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


def read_check(raw: Mapping[str, object], check: CheckOfTap) -> tuple[CheckChange, Signed]:
    """What a check should have said; raises InputError with every problem."""
    reader = Reader(raw)
    id_, result = reader.identity("id", required=True), reader.word("result", GaugeResult, required=True)
    at, note = _moment(reader, "checked_at", raw, check.checked_at), reader.text("note", longest=LONGEST_NOTE)
    signed = signature(reader)
    reader.finish()
    return CheckChange(id_ or _NOWHERE, result or check.result, at, note), signed


def read_movement(raw: Mapping[str, object], history: MoveHistory) -> tuple[MoveChange, Signed]:
    """What a movement should have said; raises InputError with every problem."""
    reader = Reader(raw)
    id_, at = reader.identity("id", required=True), _moment(reader, "moved_at", raw, history.move.moved_at)
    station = reader.text("station", longest=LONGEST_CODE)
    is_box = history.number is not None
    number = reader.whole("number", 0, MOST_AT_ONCE, required=True) if is_box else None
    note, signed = reader.text("note", longest=LONGEST_NOTE), signature(reader)
    reader.finish()
    return MoveChange(id_ or _NOWHERE, at, note, station, None if number == history.number else number), signed


def _moment(reader: Reader, field: str, raw: Mapping[str, object], before: datetime) -> datetime:
    """The time that was typed; one left as it was shown keeps the seconds that the page does not show."""
    if str(raw.get(field, "")).strip() == typed_time(before):
        return before
    return reader.moment(field, work().settings.zone, work().clock(), required=True) or before


def _move(reader: Reader, number: int) -> MoveEntry:
    id_, person, note = _common(reader)
    kind = reader.word("movement", MovementKind, required=True)
    reader.finish()
    return MoveEntry(id_, kind or MovementKind.COUNTED, person, note, number)


def _common(reader: Reader) -> tuple[uuid.UUID, str, str | None]:
    id_ = reader.identity("id", required=True)
    person = reader.text("person", longest=LONGEST_CODE, required=True)
    return id_ or _NOWHERE, person or "", reader.text("note", longest=LONGEST_NOTE)


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
