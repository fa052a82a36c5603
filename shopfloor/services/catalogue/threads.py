"""The standard thread that a text on record names."""

from __future__ import annotations

from functools import lru_cache
from math import isclose

from shopfloor.core.errors import InputError
from shopfloor.core.threads import ThreadSize, find_thread
from shopfloor.core.threads.designations import Designation, parse, standard_threads


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
