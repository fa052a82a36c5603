"""Which standard threads a text may mean, while it is typed and when it is wrong."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from functools import cache

from shopfloor.core.threads.series import Designation, Series
from shopfloor.core.threads.text import (
    from_words,
    is_size,
    metric_threads,
    plain_text,
    standard_threads,
    threads_of,
    unified_threads,
)

_LONGEST = 60
_LEAST_LIKENESS = 0.6
_SIZE = re.compile(
    r"(?P<mark>M|G|NPT)? ?(?P<size>#\d+|\d+[ -]\d+/\d+|\d+/\d+|\d*\.\d+|\d+) ?(?P<unit>MM|IN)?(?![\d.])", re.ASCII
)


def suggest(text: str, most: int = 8) -> list[str]:
    """Standard threads that the text may become, as a typing aid.

    First those that begin like it, then those of the size it names, else those that look similar. None for empty text.

    Parameters
    ----------
    text : str      what is typed so far
    most : int      how many to offer

    Examples
    --------
    >>> suggest("3/8", 3)
    ['3/8-16 UNC', '3/8-24 UNF', '3/8-32 UNEF']
    """
    plain = from_words(plain_text(text[:_LONGEST]))
    if not plain:
        return []
    near = [*_beginning(plain), *_of_the_size(plain)] or _alike(plain)
    return list(dict.fromkeys(thread.basic_text for thread in near))[:most]


def _beginning(plain: str) -> list[Designation]:
    start = _key(plain)
    found = [thread for thread in standard_threads() if any(key.startswith(start) for key in _keys(thread))]
    return sorted(found, key=lambda thread: start not in _keys(thread))


def _key(plain: str) -> str:
    """The text without blanks that separate nothing."""
    return re.sub(r"(?<!\d) | (?!\d)", "", plain)


@cache
def _keys(thread: Designation) -> tuple[str, ...]:
    """The ways in which typing a thread may begin."""
    name, size = _key(thread.basic_text.upper()), thread.size
    if thread.series.is_metric:
        return name, f"M{size}X{thread.pitch_mm:g}", f"{size}X{thread.pitch_mm:g}"
    if thread.series is Series.G:
        return name, f"{size}-{thread.tpi:g}", f"BSPP{size}"
    if thread.series is Series.NPT:
        return name, f"NPT{size}", f"{size}NPT"
    decimals = (f"{thread.major_in:.4f}".rstrip("0"), f"{thread.major_in:.3f}")
    return (
        name,
        name.lstrip("#"),
        *(f"{d}-{thread.tpi:g}" for decimal in decimals for d in (decimal, decimal.lstrip("0"))),
    )


def _of_the_size(plain: str) -> list[Designation]:
    """The threads of the size that a text begins with: '1/2 in', '8 mm', '3/8-17'."""
    match = _SIZE.match(plain)
    if not match:
        return []
    size, mark = match["size"], match["mark"]
    if mark == "M" or match["unit"] == "MM":
        return [thread for thread in metric_threads() if thread.size == size]
    if mark:
        return [thread for thread in threads_of(Series[mark]) if thread.size == size]
    return [thread for thread in unified_threads() if is_size(thread, size)]


def _alike(plain: str) -> list[Designation]:
    key = _key(plain)
    scored = [(SequenceMatcher(None, key, _keys(thread)[0]).ratio(), thread) for thread in standard_threads()]
    return [thread for score, thread in sorted(scored, key=lambda pair: -pair[0]) if score >= _LEAST_LIKENESS]
