"""Threads found inside other text (the name of a tap, a column of a file), as nominal size and pitch.

Unlike `shopfloor.core.threads.designations`, which reads standard threads strictly, this takes special pitches as well.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.core.threads.metric import COARSE_PITCH_MM
from shopfloor.core.threads.series import Series
from shopfloor.core.threads.text import threads_of
from shopfloor.core.threads.unified import number_size_in
from shopfloor.core.units import MM_PER_INCH

_SIZE_IN = r"(?P<size>\#?\d{1,2}|\d\s+\d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d?\.\d{2,4})"
_UNIFIED = re.compile(rf"(?<![\w./-]){_SIZE_IN}\s*-\s*(?P<tpi>\d{{1,2}})(?![\w/.])", re.IGNORECASE)
_METRIC = re.compile(
    r"(?<!\w)M\s?(?P<size>\d{1,2}(?:\.\d)?)(?:\s?[x×]\s?(?P<pitch>\d(?:\.\d{1,2})?))?(?![\w.])", re.IGNORECASE
)
_NPT = re.compile(
    r"(?<![\w./-])(?P<size>\d\s+\d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d{1,2})(?:\s*-\s*\d{1,2}(?:\.5)?)?\s*NPT(?!\w)",
    re.IGNORECASE,
)
_G = re.compile(r"(?<![\w./-])G\s?(?P<size>\d\s+\d/\d|\d{1,2}/\d{1,2})(?![\w/])", re.IGNORECASE)
"""Whole sizes of G are not looked for: a 'G 2' inside other text may be anything."""

_LARGEST_TPI = 80
_FEWEST_TPI_OF_NUMBERED_SIZES = 24
_LARGEST_NUMBERED_SIZE = 12
_LARGEST_INCHES = 4


@dataclass(frozen=True)
class Thread:
    """A thread's nominal size: `designation` as read, major diameter and pitch in mm."""

    designation: str
    major_mm: float
    pitch_mm: float


def find_thread(text: str) -> Thread | None:
    """The first thread designation inside `text` ('1/2-13 UNC spiral point', 'M8 forming'), or None.

    References
    ----------
    Numbered sizes: ASME B1.1; coarse metric pitches: ISO 261; pipe threads: ISO 228-1, ASME B1.20.1.
    """
    return _pipe_in(text) or _unified_in(text) or _metric_in(text)


def read_thread(text: str) -> Thread:
    """The thread that `text` names.

    Raises
    ------
    InputError    when no designation is recognised
    """
    thread = find_thread(text)
    if thread is None:
        raise InputError.of(
            "thread", phrase("'{text}' is not a thread designation", text=text), "write it like 3/8-16, #10-32 or M8x1"
        )
    return thread


def major_diameter_mm(designation: str) -> float:
    """Major diameter of the designated thread, in mm; raises InputError when it is not recognised."""
    return read_thread(designation).major_mm


def _pipe_in(text: str) -> Thread | None:
    for series, pattern in ((Series.NPT, _NPT), (Series.G, _G)):
        match = pattern.search(text)
        for thread in threads_of(series):
            if match and thread.size == " ".join(match["size"].split()):
                return Thread(match[0].strip(), thread.major_mm, thread.pitch_mm)
    return None


def _unified_in(text: str) -> Thread | None:
    match = _UNIFIED.search(text)
    if match is None or not 0 < int(match["tpi"]) <= _LARGEST_TPI:
        return None
    inches = _inches(match["size"], int(match["tpi"]))
    if inches is None:
        return None
    return Thread(match[0].strip(), float(inches) * MM_PER_INCH, MM_PER_INCH / int(match["tpi"]))


def _inches(size: str, tpi: int) -> Fraction | None:
    if size.startswith("#") or (size.isdigit() and tpi >= _FEWEST_TPI_OF_NUMBERED_SIZES):
        number = int(size.lstrip("#"))
        return number_size_in(number) if number <= _LARGEST_NUMBERED_SIZE else None
    if size.isdigit():
        return Fraction(size) if 0 < int(size) <= _LARGEST_INCHES else None
    if "." in size:
        return Fraction(size if size[0].isdigit() else f"0{size}")
    try:
        return sum((Fraction(part) for part in size.split()), Fraction(0))
    except ZeroDivisionError:
        return None


def _metric_in(text: str) -> Thread | None:
    match = _METRIC.search(text)
    if match is None:
        return None
    size = float(match["size"])
    pitch = float(match["pitch"]) if match["pitch"] else COARSE_PITCH_MM.get(size)
    if pitch is None or not 0 < pitch < size:
        return None
    return Thread(match[0].strip(), size, pitch)


def same_thread(one: str | None, other: str | None) -> bool:
    """Whether both texts name one thread, however they are written."""
    return one is not None and other is not None and thread_key(one) == thread_key(other)


def thread_key(text: str) -> str:
    """The same text for the same thread, however it is written."""
    thread = find_thread(text)
    return text.casefold() if thread is None else f"{thread.major_mm} {thread.pitch_mm}"
