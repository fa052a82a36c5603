"""Threads as people type them: standard ones, special ones marked as such, and suggestions for wrong ones."""

from __future__ import annotations

import re

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import find_thread
from shopfloor.core.threads.designations import parse

_SPECIAL = re.compile(r"\b(special|uns)\b", re.IGNORECASE)


def thread_text(reader: Reader, field: str, *, required: bool = False) -> str | None:
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
