"""Thread designations: read strictly but however they are typed, and written as the standards do."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from fractions import Fraction

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase, phrase_of
from shopfloor.core.threads.series import UNIFIED_CLASSES, Designation, Series, one_of
from shopfloor.core.threads.suggestions import suggest
from shopfloor.core.threads.text import (
    is_size,
    metric_threads,
    plain_text,
    standard_threads,
    threads_of,
    typed_inches,
    unified_threads,
)

_LONGEST = 60
_EXAMPLES = phrase("write it like 3/8-16 UNC, #10-32 UNF, M8x1, G 1/4 or 1/8-27 NPT")

_FRACTIONS = r"\d+[ -]\d+/\d+|\d+/\d+|\d*\.\d+|\d+"
_THREADS = r"\d+(?:\.\d+| 1/2)?"
_UNIFIED = re.compile(
    rf"(?P<size>#\d+|{_FRACTIONS}) ?[-X] ?(?P<tpi>{_THREADS})"
    r"[ -]?(?P<series>UNC|UNF|UNEF|8-?UN|UN)?[ -]*(?P<class>\d[A-Z])?",
    re.ASCII,
)
_METRIC = re.compile(
    r"M ?(?P<size>\d+(?:\.\d+)?)(?: ?[X-] ?(?P<pitch>\d+(?:\.\d+)?|\.\d+)(?![A-Z\d.]))?[ -]*(?P<class>\d[A-Z])?",
    re.ASCII,
)
_PIPE_SIZE = rf"(?P<size>{_FRACTIONS})(?: ?- ?(?P<tpi>{_THREADS}))?"
_PIPES = [
    (series, re.compile(pattern, re.ASCII))
    for series, words in ((Series.G, "(?:G|BSPP)"), (Series.NPT, "NPT"))
    for pattern in (rf"{words}[ -]?{_PIPE_SIZE}", rf"{_PIPE_SIZE}[ -]?{words}")
]


def format_designation(thread: Designation) -> str:
    """The designation as standards write it; `parse` reads it back to an equal value."""
    return thread.text


def parse(text: str) -> Designation:
    """The standard thread that `text` names, however it is typed.

    Parameters
    ----------
    text : str      '1/2-13 UNC', '.250-20', '#10-32 UNF-2B', 'No. 10-32', '1⅛-7', 'm10×1.25-6h', 'G1/4', '1/8 NPT'

    Raises
    ------
    InputError      no standard thread; names the nearest that are

    Examples
    --------
    >>> parse("m10×1.25 - 6h").text
    'M10x1.25-6H'
    """
    plain = plain_text(text)
    if not plain or len(plain) > _LONGEST:
        raise InputError.of("thread", "the text is too long" if plain else "nothing is given", _EXAMPLES)
    for read in (_read_pipe, _read_metric, _read_unified):
        found = read(plain)
        if found is not None:
            return found
    near = suggest(plain, 2)
    what = phrase("'{text}' is not a thread designation", text=text.strip())
    raise InputError.of("thread", what, phrase("did you mean {one_of}?", one_of=one_of(near)) if near else _EXAMPLES)


def with_class(thread: Designation, typed_class: str | None) -> Designation:
    """The thread in a class as typed ('2b'), or without one.

    Raises
    ------
    InputError    a class that the thread does not have; names those it has
    """
    name = typed_class.strip().upper() if typed_class else None
    if name and thread.series.is_unified and re.fullmatch("[123]A", name):
        what = phrase("{name} is a class of external threads", name=name)
        raise InputError.of("class", what, phrase("write {one_of} for the tapped hole", one_of=one_of(UNIFIED_CLASSES)))
    return thread.of_class(name)


def _read_pipe(plain: str) -> Designation | None:
    plain = _without_inch(plain)
    found = next(((series, m) for series, pattern in _PIPES if (m := pattern.fullmatch(plain))), None)
    if found is None:
        return None
    series, match = found
    inches, tpi = typed_inches(match["size"]), match["tpi"] and _threads(match["tpi"])
    near = _nearest(threads_of(series), lambda thread: float(typed_inches(thread.size) or 0), float(inches or 0))
    right = [t for t in near if typed_inches(t.size) == inches and tpi in (None, t.tpi)]
    return _first(right, plain, near[:2])


def _read_metric(plain: str) -> Designation | None:
    match = _METRIC.fullmatch(plain)
    if not match:
        return None
    size, pitch = float(match["size"]), float(match["pitch"] or 0)
    same = [thread for thread in metric_threads() if thread.major_mm == size]
    if pitch:
        same = _nearest(same, lambda thread: thread.pitch_mm, pitch)
    right = [t for t in same if t.pitch_mm == pitch or (not match["pitch"] and t.series is Series.METRIC_COARSE)]
    near = same or _nearest(threads_of(Series.METRIC_COARSE), lambda thread: thread.major_mm, size)
    return with_class(_first(right, plain, near[:3]), match["class"])


def _read_unified(plain: str) -> Designation | None:
    match = _UNIFIED.fullmatch(_without_inch(plain))
    if not match:
        return None
    tpi = _threads(match["tpi"])
    same = [thread for thread in unified_threads() if is_size(thread, match["size"])]
    near = _nearest(same, lambda thread: thread.tpi, tpi)
    right = [thread for thread in near if thread.tpi == tpi]
    fitting = [thread for thread in right if _is_called(thread, match["series"])]
    inches = float(typed_inches(match["size"]) or 0)
    others = right or near or _nearest(unified_threads(), lambda thread: thread.major_in, inches)
    return with_class(_first(fitting, plain, others[:2]), match["class"])


def _is_called(thread: Designation, series: str | None) -> bool:
    return series in (None, "UN") or str(series).replace("-", "") == thread.series.value.replace("-", "")


def _nearest(
    threads: Sequence[Designation], measure: Callable[[Designation], float], wanted: float
) -> list[Designation]:
    return sorted(threads, key=lambda thread: abs(measure(thread) - wanted))


def _first(right: Sequence[Designation], plain: str, nearest: Sequence[Designation]) -> Designation:
    if right:
        return right[0]
    choices = one_of([thread.basic_text for thread in nearest])
    typed = plain.replace("X", "x")
    raise InputError.of(
        "thread",
        phrase("'{typed}' is no standard thread", typed=typed),
        phrase_of(len(nearest), "the nearest is {choices}", "the nearest are {choices}", choices=choices),
    )


def _without_inch(plain: str) -> str:
    return re.sub(r" ?\bIN\b ?(?=[-X])|(?<=\d) IN\b", "", plain)


def _threads(text: str) -> float:
    return float(sum((Fraction(part) for part in text.split()), Fraction(0)))


__all__ = [
    "Designation", "Series",
    "format_designation", "parse", "standard_threads", "suggest", "with_class",
]  # fmt: skip
