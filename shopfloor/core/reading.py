"""Reads raw values from any door (form, JSON, CSV, command line) and collects everything that is wrong with them."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import TypeVar

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.vocabulary import Word

AnyWord = TypeVar("AnyWord", bound=Word)

CLOCK_TOLERANCE = timedelta(minutes=10)
"""How far ahead a tablet's clock may be before its time counts as a date in the future."""

_EARLIEST = datetime(1980, 1, 1, tzinfo=UTC)
_DECIMAL = re.compile(r"[0-9]{1,9}(\.[0-9]{1,4})?")
_DIGITS = re.compile(r"-?[0-9]{1,18}")
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_MOST_LISTED = 500
_SHOWN_LENGTH = 40
_SHOWN_DIGITS = 18


def shown(value: object) -> str:
    """The value as a message repeats it: short and printable."""
    text = _UNWRITABLE.sub("?", str(value))
    return f"'{text[:_SHOWN_LENGTH]}...'" if len(text) > _SHOWN_LENGTH else f"'{text}'"


def shown_number(number: int) -> str:
    """A number as a message repeats it; one that no field could hold is only described."""
    if abs(number) < 10**_SHOWN_DIGITS:
        return f"{number:,}"
    return f"a number of {len(str(abs(number))):,} digits"


class Reader:
    """Typed values out of one raw record; each reading method returns None where there is nothing usable.

    Problems are collected; `finish` raises them all at once.
    """

    def __init__(self, raw: Mapping[str, object], *, row: int | None = None) -> None:
        self._raw = raw
        self._row = row
        self.problems: list[Problem] = []

    def problem(self, field: str, what: str, remedy: str) -> None:
        """Note that something is wrong with `field`."""
        self.problems.append(Problem(field, what, remedy, self._row))

    def finish(self) -> None:
        """Raise InputError with all problems found, if any."""
        if self.problems:
            raise InputError(self.problems)

    def text(self, field: str, *, longest: int, required: bool = False) -> str | None:
        """Text without surrounding blanks; empty counts as missing."""
        value = self._raw.get(field)
        if value is None or (isinstance(value, str) and not value.strip()):
            if required:
                self.problem(field, "it is missing", "fill it in")
            return None
        if not isinstance(value, str):
            value = str(value) if isinstance(value, int) and not isinstance(value, bool) else None
        if value is None:
            self.problem(field, "it is no text", "give text")
            return None
        value = value.strip()
        if _UNWRITABLE.search(value):
            self.problem(field, f"{shown(value)} holds characters that cannot be stored", "type it again")
            return None
        if len(value) > longest:
            self.problem(field, f"it has {len(value):,} characters", f"use at most {longest:,}")
            return None
        return value

    def whole(self, field: str, low: int, high: int, *, required: bool = False) -> int | None:
        """A whole number from `low` to `high`, written with digits only."""
        value = self._raw.get(field)
        if value is None or (isinstance(value, str) and not value.strip()):
            if required:
                self.problem(field, "it is missing", f"give a whole number from {low:,} to {high:,}")
            return None
        number = _whole(value)
        if number is None:
            self.problem(field, f"{shown(value)} is no whole number", f"use digits only, from {low:,} to {high:,}")
        elif not low <= number <= high:
            self.problem(field, f"{shown_number(number)} is out of range", f"give a number from {low:,} to {high:,}")
            return None
        return number

    def wholes(self, field: str, low: int, high: int) -> tuple[int, ...]:
        """Whole numbers from `low` to `high` in rising order, as a list or as text with blanks between."""
        value = self._raw.get(field)
        if value is None:
            return ()
        parts = value.replace(",", " ").split() if isinstance(value, str) else value
        if not isinstance(parts, list) or len(parts) > _MOST_LISTED:
            self.problem(field, f"{shown(value)} is no list of numbers", f"give up to {_MOST_LISTED:,} whole numbers")
            return ()
        numbers = [_whole(part) for part in parts]
        found = [number for number in numbers if number is not None and low <= number <= high]
        if len(found) < len(parts):
            self.problem(field, f"{shown(value)} cannot be", f"give whole numbers from {low:,} to {high:,}")
        return tuple(sorted(found))

    def decimal(self, field: str, low: float, high: float) -> float | None:
        """A number with at most four decimals, a point between; a comma is never guessed at."""
        text = self.text(field, longest=_SHOWN_LENGTH)
        if text is None:
            return None
        if not _DECIMAL.fullmatch(text):
            self.problem(field, f"{shown(text)} is no number", "use digits and a point, as 12.5")
            return None
        if not low <= float(text) <= high:
            self.problem(field, f"{text} is out of range", f"give a number from {low:g} to {high:g}")
            return None
        return float(text)

    def day(self, field: str) -> date | None:
        """A calendar day written as ISO 8601."""
        text = self.text(field, longest=_SHOWN_LENGTH)
        if text is None:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.problem(field, f"{shown(text)} is no day", "write it like 2026-03-31")
            return None

    def word(self, field: str, vocabulary: type[AnyWord], *, required: bool = False) -> AnyWord | None:
        """A word of the trade, by its value or its label, in any case."""
        text = self.text(field, longest=_SHOWN_LENGTH, required=required)
        if text is None:
            return None
        wanted = text.casefold().replace("_", " ")
        for word in vocabulary:
            if wanted in (word.value.casefold(), word.label.casefold(), *word.also):
                return word
        self.problem(field, f"{shown(text)} is not known", f"use one of: {', '.join(w.value for w in vocabulary)}")
        return None

    def identity(self, field: str, *, required: bool = False) -> uuid.UUID | None:
        """A UUID."""
        text = self.text(field, longest=_SHOWN_LENGTH, required=required)
        if text is None:
            return None
        try:
            return uuid.UUID(text)
        except ValueError:
            self.problem(field, f"{shown(text)} is no UUID", "send 32 hexadecimal digits, as RFC 9562 writes them")
            return None

    def moment(self, field: str, zone: tzinfo, now: datetime, *, required: bool = False) -> datetime | None:
        """An instant written as ISO 8601, not in the future; without an offset it is read in the shop's `zone`."""
        text = self.text(field, longest=_SHOWN_LENGTH, required=required)
        if text is None:
            return None
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            self.problem(field, f"{shown(text)} is no date", "write it like 2026-03-31 or 2026-03-31T14:05")
            return None
        moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
        if moment < _EARLIEST:
            self.problem(field, f"{shown(text)} is too long ago", f"give a time from {_EARLIEST.year} to now")
        elif moment > now + CLOCK_TOLERANCE:
            limit = f"{now.astimezone(zone):%Y-%m-%d %H:%M}"
            self.problem(field, f"{shown(text)} lies in the future", f"give a time up to now ({limit})")
        else:
            return moment
        return None


def _whole(value: object) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return int(value) if value.is_integer() else None
    text = value.strip() if isinstance(value, str) else ""
    return int(text) if _DIGITS.fullmatch(text) else None
