"""How entries of the catalogue are read: what all have in common, and the fields that have rules of their own."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, Self, TypeVar

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import Reader, Reading, shown
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import find_thread
from shopfloor.core.threads.designations import parse
from shopfloor.core.units import Units
from shopfloor.core.value_words import field_of
from shopfloor.core.vocabulary import Word

DEAREST_TAP = Decimal("100000")

_SPECIAL = re.compile(r"\b(special|uns)\b", re.IGNORECASE)
_CENT = Decimal("0.01")
_BESIDE = {"rpm_max": "rpm_min", "drilled_mm": "thread"}
"""Fields that are checked against another one: both are checked if either was changed."""

AnyEntry = TypeVar("AnyEntry", bound="CatalogueEntry")


class Answer(Word):
    """Yes or no."""

    YES = "yes", "Yes"
    NO = "no", "No"


def no_material(_code: str) -> int | None:
    """What a shop without materials finds."""
    return None


@dataclass(frozen=True)
class EntryContext:
    """What an entry is read by.

    Attributes
    ----------
    decimal_mark     the shop's, as `Reader` takes it
    units            of quantities typed without a unit
    find_material    the id of the material with this code; None where the shop has none
    """

    decimal_mark: str = "."
    units: Units = Units.METRIC
    find_material: Callable[[str], int | None] = no_material

    def reader(self, raw: Mapping[str, object]) -> Reader:
        """A reader of what was typed here."""
        return Reader(raw, decimal_mark=self.decimal_mark, units=self.units)


@dataclass(frozen=True)
class CatalogueEntry(ABC):
    """What was typed of one thing of the catalogue, by column; a value is None where nothing usable was typed."""

    @classmethod
    @abstractmethod
    def read(cls, reader: Reader, context: EntryContext) -> Self:
        """All fields but the code; problems are left with the reader."""


def read_new(kind: type[AnyEntry], raw: Mapping[str, object], context: EntryContext) -> Reading[tuple[str, AnyEntry]]:
    """The 'code' of a new thing, empty where it is unusable, and the rest of what was typed.

    Parameters
    ----------
    kind       what the thing is
    raw        as typed
    context    what it is read by

    Returns
    -------
    The problems are left to be raised with those that the record finds.
    """
    reader = context.reader(raw)
    code = reader.text("code", longest=LONGEST_CODE, required=True) or ""
    return Reading((code, kind.read(reader, context)), tuple(reader.problems))


def read_changes(
    kind: type[CatalogueEntry], raw: Mapping[str, object], context: EntryContext, before: Mapping[str, str]
) -> dict[str, Any]:
    """The new values, by column, of the fields that are not as they were shown; what was left alone is not judged.

    Parameters
    ----------
    kind       what the thing is
    raw        as typed
    context    what it is read by
    before     the fields as they were shown; one that is not among them is read in any case

    Raises
    ------
    InputError    every problem of a field that was changed
    """
    reader = context.reader(raw)
    values = vars(kind.read(reader, context))
    left = {name for name, typed in before.items() if str(raw.get(name) or "").strip() == typed}
    problems = (one for one in reader.problems if not {one.field, _BESIDE.get(one.field, one.field)} <= left)
    changed = {name: value for name, value in values.items() if field_of(name) not in left}
    return Reading(changed, tuple(problems)).accepted()


def read_thread(reader: Reader, field: str, *, required: bool = False) -> str | None:
    """The thread typed into a field, as typed; a wrong one is reported with the nearest valid ones.

    A non-standard pitch is accepted if the text marks it as special: '3/8-20 UNS', 'M8x1.1 special'.

    Parameters
    ----------
    reader      of the raw record; takes the problem
    field       name of the field
    required    whether an empty field is a problem
    """
    text = reader.text(field, longest=LONGEST_CODE, required=required)
    if text is None or (_SPECIAL.search(text) and find_thread(text)):
        return text
    try:
        parse(text)
    except InputError as error:
        for problem in error.problems:
            remedy = problem.remedy
            if find_thread(text):
                remedy = phrase("{remedy}; write 'special' after it if it is one", remedy=remedy)
            reader.problem(field, problem.what, remedy)
    return text


def read_answer(reader: Reader, field: str) -> bool | None:
    """Whether yes was answered; None where nothing usable was."""
    answer = reader.word(field, Answer)
    return None if answer is None else answer is Answer.YES


def read_price(reader: Reader, field: str) -> Decimal | None:
    """The price of one tap, with at most two decimals after a comma or a point."""
    text = reader.text(field, longest=LONGEST_CODE)
    if text is None:
        return None
    if re.fullmatch(r"[1-9][0-9]{0,2}[.,][0-9]{3}", text):
        # Prices have at most two decimals, so three digits could be meant as decimals or as thousands.
        what = phrase("{text} can be read in two ways", text=shown(text))
        whole = re.sub("[.,]", "", text)
        reader.problem(field, what, phrase("write {whole}, or at most two decimals", whole=whole))
        return None
    price = _price(text)
    if price is None:
        reader.problem(
            field,
            phrase("{text} is not a price", text=shown(text)),
            phrase("give 0 to {dearest_tap} with at most two decimals", dearest_tap=int(DEAREST_TAP)),
        )
    return price


def _price(text: str) -> Decimal | None:
    try:
        price = Decimal(re.sub(r",(?=[0-9]{1,2}$)", ".", text))
    except InvalidOperation:
        return None
    is_possible = price.is_finite() and 0 <= price <= DEAREST_TAP
    return price if is_possible and price == price.quantize(_CENT) else None
