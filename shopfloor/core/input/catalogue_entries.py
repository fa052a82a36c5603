"""What a shop says of itself when it is set up: another code for a thing, and what tap life is counted in."""

from __future__ import annotations

from collections.abc import Mapping

from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.vocabulary import LifeMeasure


def read_new_code(raw: Mapping[str, object]) -> str:
    """Another code for a thing ('new_code'); the record says whether it is free.

    Raises
    ------
    InputError    no code, or one that is too long
    """
    reader = Reader(raw)
    new = reader.text("new_code", longest=LONGEST_CODE, required=True)
    reader.finish()
    return new or ""


def read_life_measure(raw: Mapping[str, object]) -> LifeMeasure:
    """What tap life is counted in ('measure').

    Raises
    ------
    InputError    no measure, or one that is not known
    """
    reader = Reader(raw)
    measure = reader.word("measure", LifeMeasure, required=True)
    reader.finish()
    return measure or LifeMeasure.HOLES
