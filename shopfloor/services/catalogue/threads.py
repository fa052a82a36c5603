"""Threads as people type them: standard ones, special ones marked as such, and suggestions for wrong ones."""

from __future__ import annotations

import re
from functools import lru_cache
from math import isclose

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import ThreadSize, find_thread
from shopfloor.core.threads.designations import Designation, parse, standard_threads

_SPECIAL = re.compile(r"\b(special|uns)\b", re.IGNORECASE)


def thread_text(reader: Reader, field: str, *, required: bool = False) -> str | None:
    """The thread typed into a field, as typed; a wrong one is reported with the nearest valid ones.

    A non-standard pitch is accepted if the text marks it as special: '3/8-20 UNS', 'M8x1.1 special'.
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


@lru_cache(maxsize=512)
def standard_thread(text: str) -> Designation:
    """The standard thread that a text names, possibly among other words, as in an import.

    Raises
    ------
    InputError    no standard thread; names the nearest
    """
    try:
        return parse(text)
    except InputError:
        found = find_thread(text)
        for thread in standard_threads():
            if found is not None and _is_same(found, thread):
                return thread
        raise


def _is_same(found: ThreadSize, thread: Designation) -> bool:
    return isclose(found.major_mm, thread.major_mm) and isclose(found.pitch_mm, thread.pitch_mm)
