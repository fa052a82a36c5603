"""Threads as people type them: text in plain form, and which standard size a typed size means."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from functools import cache

from shopfloor.core.threads import metric, pipe, unified
from shopfloor.core.threads.series import Designation, Series

_ROUNDED_DECIMAL_IN = Fraction(6, 10_000)
"""How far a decimal size may be from the exact one: .313 stands for 5/16."""

_SAME_IN = Fraction(1, 10**9)

_SPOKEN = {
    "SEVEN EIGHTHS": "7/8", "THREE QUARTERS?": "3/4", "FIVE EIGHTHS": "5/8", "THREE EIGHTHS": "3/8",
    "FIVE SIXTEENTHS?": "5/16", "HALF(?: AN?)?": "1/2", "QUARTER": "1/4", "ONE": "1",
}  # fmt: skip

_PLAIN = (
    ("[\u2010-\u2015\u2212]", "-"),
    ("[×✕✖⨯*]", "X"),
    (r"(?<=\d),(?=\d)", "."),
    (r"(?:\bNO\b|\bNR\b|\bNUMBER\b|N°)\.? ?(?=\d)", "#"),
    (r"(?<=[\d ])(?:\"|''|″|”|“|INCH(?:ES)?\b|IN\.)", " IN "),
    ("# +", "#"),
    (r"\s+", " "),
)


@cache
def standard_threads() -> tuple[Designation, ...]:
    """Every standard thread that can be designated, without class: Unified, metric, pipe; coarse before fine."""
    return (*unified.sizes(), *metric.sizes(), *pipe.sizes())


@cache
def threads_of(*series: Series) -> tuple[Designation, ...]:
    """The standard threads of some series."""
    return tuple(thread for thread in standard_threads() if thread.series in series)


def unified_threads() -> tuple[Designation, ...]:
    """The standard Unified threads."""
    return threads_of(Series.UNC, Series.UNF, Series.UNEF, Series.UN_8)


def metric_threads() -> tuple[Designation, ...]:
    """The standard metric threads."""
    return threads_of(Series.METRIC_COARSE, Series.METRIC_FINE)


def plain_text(text: str) -> str:
    """The text in capitals with plain fractions, hyphens, decimal points and single blanks.

    Examples
    --------
    >>> plain_text("No. 10 – 32"), plain_text("1⅛-7 unc")
    ('#10 - 32', '1 1/8-7 UNC')
    """
    spaced = "".join(f" {c}" if unicodedata.decomposition(c).startswith("<fraction>") else c for c in text)
    plain = unicodedata.normalize("NFKC", spaced).upper().replace("\u2044", "/")
    for pattern, written in _PLAIN:
        plain = re.sub(pattern, written, plain)
    return plain.strip()


def from_words(plain: str) -> str:
    """The plain text with spoken sizes as fractions: 'HALF INCH' is '1/2 IN'."""
    for words, size in _SPOKEN.items():
        plain = re.sub(rf"\b{words}\b", size, plain)
    return re.sub(r"\bINCH\b", "IN", plain).strip()


def typed_inches(size: str) -> Fraction | None:
    """A size as typed ('#10', '1 1/8', '.25'), in inches; None where it has no value (1/0)."""
    if size.startswith("#"):
        return unified.number_size_in(int(size[1:]))
    try:
        return sum((Fraction(part) for part in re.split("[ -]", size)), Fraction(0))
    except ZeroDivisionError:
        return None


def is_size(thread: Designation, typed: str) -> bool:
    """Whether a typed size is that of this Unified thread: a number, with or without '#', a fraction or a decimal."""
    if typed in (thread.size, thread.size.lstrip("#")):
        return True
    inches = typed_inches(typed)
    if inches is None or typed.startswith("#"):
        return False
    return abs(Fraction(thread.major_in) - inches) <= (_ROUNDED_DECIMAL_IN if "." in typed else _SAME_IN)
