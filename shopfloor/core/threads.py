"""Thread designations as people type them, read into nominal size and pitch."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from shopfloor.core.errors import InputError
from shopfloor.core.units import MM_PER_INCH

_METRIC_COARSE_PITCH_MM = {
    1.6: 0.35, 2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 3.5: 0.6, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 7.0: 1.0, 8.0: 1.25, 10.0: 1.5,
    12.0: 1.75, 14.0: 2.0, 16.0: 2.0, 18.0: 2.5, 20.0: 2.5, 22.0: 2.5, 24.0: 3.0, 27.0: 3.0, 30.0: 3.5, 33.0: 3.5,
    36.0: 4.0, 39.0: 4.0, 42.0: 4.5, 45.0: 4.5, 48.0: 5.0, 52.0: 5.0, 56.0: 5.5, 60.0: 5.5, 64.0: 6.0,
}  # fmt: skip
"""Coarse pitches, ISO 261."""

_SIZE_IN = r"(?P<size>\#?\d{1,2}|\d\s+\d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d?\.\d{2,4})"
_UNIFIED = re.compile(rf"(?<![\w./-]){_SIZE_IN}\s*-\s*(?P<tpi>\d{{1,2}})(?![\w/.])", re.IGNORECASE)
_METRIC = re.compile(
    r"(?<!\w)M\s?(?P<size>\d{1,2}(?:\.\d)?)(?:\s?[x×]\s?(?P<pitch>\d(?:\.\d{1,2})?))?(?![\w.])", re.IGNORECASE
)
_LARGEST_TPI = 80
_FEWEST_TPI_OF_NUMBERED_SIZES = 24
_LARGEST_NUMBERED_SIZE = 12
_LARGEST_INCHES = 4
_NUMBERED_STEP_IN = Fraction(13, 1000)


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
    Numbered sizes: 0.060 in + 0.013 in x number (ASME B1.1); coarse metric pitches: ISO 261.
    """
    return _unified_in(text) or _metric_in(text)


def read_thread(text: str) -> Thread:
    """The thread that `text` names.

    Raises
    ------
    InputError    when no designation is recognised
    """
    thread = find_thread(text)
    if thread is None:
        raise InputError.of("thread", f"'{text}' is no thread designation", "write it like 3/8-16, #10-32 or M8x1")
    return thread


def major_diameter_mm(designation: str) -> float:
    """Major diameter of the designated thread, in mm; raises InputError when it is not recognised."""
    return read_thread(designation).major_mm


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
        return Fraction(60, 1000) + number * _NUMBERED_STEP_IN if number <= _LARGEST_NUMBERED_SIZE else None
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
    pitch = float(match["pitch"]) if match["pitch"] else _METRIC_COARSE_PITCH_MM.get(size)
    if pitch is None or not 0 < pitch < size:
        return None
    return Thread(match[0].strip(), size, pitch)
