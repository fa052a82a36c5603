"""Reads raw values from any source (form, JSON, CSV, command line) and collects everything that is wrong with them.

Point and comma are both read as decimal marks. The one that is not the shop's is queried where three digits follow it
and the field could hold the thousands; a whole number takes digits only. `static/js/station/batch_rules.js` holds the
same rules, and `tests/numbers_typed.py` checks both by one table of cases.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Generic, TypeVar

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import figure, phrase, rounded
from shopfloor.core.units import NM_PER_FT_LB, NM_PER_IN_LB, Units
from shopfloor.core.vocabulary import Word

AnyWord = TypeVar("AnyWord", bound=Word)
Entry = TypeVar("Entry", covariant=True)

CLOCK_TOLERANCE = timedelta(minutes=10)
"""How far ahead a tablet's clock may be before its time counts as being in the future."""

_EARLIEST = datetime(1980, 1, 1, tzinfo=UTC)
_DECIMAL = re.compile(r"[0-9]{1,9}([.,][0-9]{1,4})?")
_COULD_BE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")
"""A number whose mark one reader takes for a decimal mark and another for a thousands separator."""
_IN_GROUPS = re.compile(r"[1-9][0-9]{0,2}([., \u00a0\u202f'][0-9]{3})+")
"""A whole number with separators between its thousands; `static/js/station/batch_rules.js` has the same pattern."""
_LENGTH = re.compile(r"(?P<number>[^a-zA-Z\"]*?)\s*(?P<unit>mm|in|\")?", re.I)
_UNITS = {"mm": Units.METRIC, "in": Units.INCH, '"': Units.INCH}
_TORQUE = re.compile(r"(?P<number>[^a-zA-Z]*?)\s*(?P<unit>n\s*[·*]?\s*m|(ft|in)[-\s·]?lbs?|lbs?[-\s·]?(ft|in))?", re.I)
_NM_PER_UNIT = {"ftlb": NM_PER_FT_LB, "lbft": NM_PER_FT_LB, "inlb": NM_PER_IN_LB, "lbin": NM_PER_IN_LB}
_DIGITS = re.compile(r"-?[0-9]{1,18}")
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_MOST_LISTED = 500
SHOWN_LENGTH = 40
"""Characters of a text that a message repeats."""
_SHOWN_DIGITS = 18


def shown(value: object) -> str:
    """The value as a message quotes it: short and printable."""
    text = _UNWRITABLE.sub("?", str(value))
    return phrase("'{value}'", value=f"{text[:SHOWN_LENGTH]}..." if len(text) > SHOWN_LENGTH else text)


def is_writable(text: str) -> bool:
    """Whether a text can be stored: it holds no control characters and no surrogates."""
    return _UNWRITABLE.search(text) is None


def shown_number(number: int) -> str:
    """A number as a message quotes it; one too long for any field is only described."""
    if abs(number) < 10**_SHOWN_DIGITS:
        return figure(f"{number:,}")
    return phrase("a number of {n} digits", n=len(str(abs(number))))


@dataclass(frozen=True)
class Reading(Generic[Entry]):
    """What could be read, and every problem found; the record may find more, and all are raised together.

    Attributes
    ----------
    entry       None where there is nothing usable
    problems    why it cannot be used
    """

    entry: Entry
    problems: tuple[Problem, ...] = ()

    def accepted(self, found: Sequence[Problem] = ()) -> Entry:
        """The entry, if neither reading it nor the record found anything wrong.

        Parameters
        ----------
        found    problems that the record found

        Raises
        ------
        InputError    every problem
        """
        if self.problems or found:
            raise InputError([*self.problems, *found])
        return self.entry


class Reader:
    """Typed values from one raw record; each reading method returns None where there is nothing usable.

    Problems are collected; `finish` raises them all at once.

    Parameters
    ----------
    raw             the record, by field
    row             its row in a file, for messages
    decimal_mark    what people there write before decimals, a point or a comma; both are read, and the other one is
                    queried where it could separate thousands
    units           of quantities typed without a unit
    """

    def __init__(
        self,
        raw: Mapping[str, object],
        *,
        row: int | None = None,
        decimal_mark: str = ".",
        units: Units = Units.METRIC,
    ) -> None:
        self._raw = raw
        self._row = row
        self._decimal_mark = decimal_mark
        self.units = units
        self.problems: list[Problem] = []

    def problem(self, field: str, what: str, remedy: str) -> None:
        """Note a problem.

        Parameters
        ----------
        field     the field it concerns
        what      what is wrong
        remedy    what would be right
        """
        self.problems.append(Problem(field, what, remedy, self._row))

    def finish(self) -> None:
        """Raise InputError with all problems found, if any."""
        if self.problems:
            raise InputError(self.problems)

    def text(self, field: str, *, longest: int, required: bool = False) -> str | None:
        """Text without surrounding blanks; empty counts as missing.

        Parameters
        ----------
        field       name of the field
        longest     maximum number of characters
        required    whether an empty field is a problem
        """
        value = self._raw.get(field)
        if value is None or (isinstance(value, str) and not value.strip()):
            if required:
                self.problem(field, "it is missing", "fill it in")
            return None
        if not isinstance(value, str):
            value = str(value) if isinstance(value, int) and not isinstance(value, bool) else None
        if value is None:
            self.problem(field, "it is not text", "give text")
            return None
        value = value.strip()
        if not is_writable(value):
            self.problem(
                field, phrase("{value} contains characters that cannot be stored", value=shown(value)), "type it again"
            )
            return None
        if len(value) > longest:
            self.problem(
                field,
                phrase("it has {value} characters", value=len(value)),
                phrase("use at most {longest}", longest=longest),
            )
            return None
        return value

    def whole(self, field: str, low: int, high: int, *, required: bool = False) -> int | None:
        """A whole number, written with digits only.

        Parameters
        ----------
        field        name of the field
        low, high    limits, both allowed
        required     whether an empty field is a problem
        """
        value = self._raw.get(field)
        if value is None or (isinstance(value, str) and not value.strip()):
            if required:
                self.problem(
                    field, "it is missing", phrase("give a whole number from {low} to {high}", low=low, high=high)
                )
            return None
        number = _whole(value)
        if number is None and isinstance(value, str) and self._has_groups(field, value.strip(), low, high):
            return None
        if number is None:
            self.problem(
                field,
                phrase("{value} is not a whole number", value=shown(value)),
                phrase("use digits only, from {low} to {high}", low=low, high=high),
            )
        elif not low <= number <= high:
            self.problem(
                field,
                phrase("{number} is out of range", number=shown_number(number)),
                phrase("give a number from {low} to {high}", low=low, high=high),
            )
            return None
        return number

    def _has_groups(self, field: str, text: str, low: int, high: int) -> bool:
        """Query a whole number typed with marks between its thousands: '1.500' may be meant as 1.5."""
        digits = re.sub("[^0-9]", "", text) if _IN_GROUPS.fullmatch(text) else ""
        if not digits or not low <= int(digits) <= high:
            return False
        self.problem(
            field,
            phrase("{text} can be read in two ways", text=shown(text)),
            phrase("write {whole} if that is meant, or another whole number, with digits only", whole=digits),
        )
        return True

    def wholes(self, field: str, low: int, high: int) -> tuple[int, ...]:
        """Whole numbers in ascending order, from a list or from text with blanks between.

        Parameters
        ----------
        field        name of the field
        low, high    limits of each, both allowed
        """
        value = self._raw.get(field)
        if value is None:
            return ()
        parts = value.replace(",", " ").split() if isinstance(value, str) else value
        if not isinstance(parts, list) or len(parts) > _MOST_LISTED:
            self.problem(
                field,
                phrase("{value} is not a list of numbers", value=shown(value)),
                phrase("give up to {most_listed} whole numbers", most_listed=_MOST_LISTED),
            )
            return ()
        numbers = [_whole(part) for part in parts]
        found = [number for number in numbers if number is not None and low <= number <= high]
        if len(found) < len(parts):
            self.problem(
                field,
                phrase("{value} is not possible", value=shown(value)),
                phrase("give whole numbers from {low} to {high}", low=low, high=high),
            )
        return tuple(sorted(found))

    def decimal(self, field: str, low: float, high: float) -> float | None:
        """A number with at most four decimals after a comma or a point; an ambiguous one is refused.

        '1,5' is 1.5 and never 15. Where people write a point before decimals, '9,525' could be 9525 as well, and so
        could '9.525' where they write a comma: it is accepted only where the field could not hold 9525.

        Parameters
        ----------
        field        name of the field
        low, high    limits, both allowed
        """
        text = self.text(field, longest=SHOWN_LENGTH)
        return None if text is None else self._number(field, text, low, high)

    def length(self, field: str, low_mm: float, high_mm: float, units: Units) -> float | None:
        """A length in mm, typed in `units` or with its own unit: '12.5', '12,5 mm', '0.5 in'.

        Parameters
        ----------
        field              name of the field
        low_mm, high_mm    limits in mm, both allowed
        units              of a length typed without a unit
        """
        text = self.text(field, longest=SHOWN_LENGTH)
        if text is None:
            return None
        typed = _LENGTH.fullmatch(text)
        said = _UNITS.get((typed["unit"] or "").lower(), units) if typed else units
        low, high = said.of_mm(low_mm), said.of_mm(high_mm)
        number = self._number(field, typed["number"] if typed else text, low, high)
        return None if number is None else said.to_mm(number)

    def torque(self, field: str, low_nm: float, high_nm: float) -> float | None:
        """A torque in N m, typed in the units of this reader or with its own: '12', '9 ft-lb', '80 in-lb'.

        Parameters
        ----------
        field              name of the field
        low_nm, high_nm    limits in N m, both allowed
        """
        text = self.text(field, longest=SHOWN_LENGTH)
        if text is None:
            return None
        typed = _TORQUE.fullmatch(text)
        unit = re.sub("[^a-z]", "", typed["unit"].lower()).rstrip("s") if typed and typed["unit"] else ""
        nm = _NM_PER_UNIT.get("ftlb" if not unit and self.units is Units.INCH else unit, 1.0)
        number = self._number(field, typed["number"] if typed else text, low_nm / nm, high_nm / nm)
        return None if number is None else number * nm

    def _number(self, field: str, text: str, low: float, high: float) -> float | None:
        if not _DECIMAL.fullmatch(text):
            remedy = phrase("use digits, with one decimal mark, such as {example}", example=figure("12.5"))
            self.problem(field, phrase("{text} is not a number", text=shown(text)), remedy)
            return None
        number, thousands = float(text.replace(",", ".")), re.sub("[.,]", "", text)
        is_doubtful = _COULD_BE_THOUSANDS.fullmatch(text) and self._decimal_mark not in text
        if is_doubtful and low <= float(thousands) <= high:
            what = phrase("{text} can be read in two ways", text=shown(text))
            remedy = phrase("write {decimal} or {whole}", decimal=figure(_plain(text)), whole=thousands)
            self.problem(field, what, remedy)
            return None
        if not low <= number <= high:
            limits = {"low": rounded(low, 4), "high": rounded(high, 4)}
            what = phrase("{text} is out of range", text=text)
            self.problem(field, what, phrase("give a number from {low} to {high}", **limits))
            return None
        return number

    def day(self, field: str) -> date | None:
        """A calendar day written as ISO 8601."""
        text = self.text(field, longest=SHOWN_LENGTH)
        if text is None:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.problem(field, phrase("{text} is not a date", text=shown(text)), "write it like 2026-03-31")
            return None

    def word(self, field: str, vocabulary: type[AnyWord], *, required: bool = False) -> AnyWord | None:
        """A word of the trade, by its value, its label or another spelling, in any case.

        Parameters
        ----------
        field         name of the field
        vocabulary    the words allowed
        required      whether an empty field is a problem
        """
        text = self.text(field, longest=SHOWN_LENGTH, required=required)
        if text is None:
            return None
        wanted = text.casefold().replace("_", " ")
        for word in vocabulary:
            if wanted in (word.value.casefold(), word.label.casefold(), *word.also):
                return word
        self.problem(
            field,
            phrase("{text} is not known", text=shown(text)),
            phrase("use one of: {words}", words=", ".join(w.value for w in vocabulary)),
        )
        return None

    def words(self, field: str, vocabulary: type[AnyWord]) -> tuple[AnyWord, ...]:
        """Words of the trade by value, in the vocabulary's order, from a list or from text with blanks between."""
        value = self._raw.get(field)
        parts = value.split() if isinstance(value, str) else [] if value is None else value
        known = {word.value for word in vocabulary}
        if not isinstance(parts, list) or not all(isinstance(part, str) and part in known for part in parts):
            self.problem(
                field,
                phrase("{text} is not known", text=shown(value)),
                phrase("use one or several of: {words}", words=", ".join(word.value for word in vocabulary)),
            )
            return ()
        return tuple(word for word in vocabulary if word.value in parts)

    def identity(self, field: str, *, required: bool = False) -> uuid.UUID | None:
        """A UUID."""
        text = self.text(field, longest=SHOWN_LENGTH, required=required)
        if text is None:
            return None
        try:
            return uuid.UUID(text)
        except ValueError:
            self.problem(
                field,
                phrase("{text} is not a UUID", text=shown(text)),
                "send 32 hexadecimal digits, as RFC 9562 writes them",
            )
            return None

    def moment(self, field: str, zone: tzinfo, now: datetime, *, required: bool = False) -> datetime | None:
        """An instant written as ISO 8601, not in the future.

        Parameters
        ----------
        field       name of the field
        zone        the shop's time zone, for an instant without an offset
        now         the present
        required    whether an empty field is a problem
        """
        text = self.text(field, longest=SHOWN_LENGTH, required=required)
        if text is None:
            return None
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            self.problem(
                field, phrase("{text} is not a date", text=shown(text)), "write it like 2026-03-31 or 2026-03-31T14:05"
            )
            return None
        moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
        if moment < _EARLIEST:
            self.problem(
                field,
                phrase("{text} is too long ago", text=shown(text)),
                phrase("give a time from {year} to now", year=str(_EARLIEST.year)),
            )
        elif moment > now + CLOCK_TOLERANCE:
            limit = f"{now.astimezone(zone):%Y-%m-%d %H:%M}"
            self.problem(
                field,
                phrase("{text} lies in the future", text=shown(text)),
                phrase("give a time up to now ({limit})", limit=limit),
            )
        else:
            return moment
        return None


def _plain(text: str) -> str:
    """A number with three decimals rewritten with fewer or more, so that nobody takes its mark for a thousands
    separator.
    """
    short = text.replace(",", ".").rstrip("0").rstrip(".")
    return f"{short}0" if _COULD_BE_THOUSANDS.fullmatch(short) else short


def _whole(value: object) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return int(value) if value.is_integer() else None
    text = value.strip() if isinstance(value, str) else ""
    return int(text) if _DIGITS.fullmatch(text) else None
