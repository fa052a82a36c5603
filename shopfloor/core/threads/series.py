"""Thread series and the designation of a standard thread: terms shared by every thread module."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import Phrase, joined, phrase, rounded
from shopfloor.core.units import MM_PER_INCH
from shopfloor.core.vocabulary import Word

Floats = NDArray[np.float64]

UNIFIED_CLASSES = ("2B", "3B")
METRIC_CLASSES = ("5H", "6H", "7H")


class Series(Word):
    """The standard series a thread belongs to."""

    UNC = "UNC", "Unified coarse"
    UNF = "UNF", "Unified fine"
    UNEF = "UNEF", "Unified extra fine"
    UN_8 = "8-UN", "Unified 8-thread"
    METRIC_COARSE = "M", "Metric coarse"
    METRIC_FINE = "M fine", "Metric fine"
    G = "G", "Parallel pipe (G)"
    NPT = "NPT", "Taper pipe (NPT)"

    @property
    def is_unified(self) -> bool:
        """Whether sizes are those of ASME B1.1."""
        return self in (Series.UNC, Series.UNF, Series.UNEF, Series.UN_8)

    @property
    def is_metric(self) -> bool:
        """Whether sizes are those of ISO 261."""
        return self in (Series.METRIC_COARSE, Series.METRIC_FINE)

    @property
    def is_pipe(self) -> bool:
        """Whether sizes are named for the bore of a pipe."""
        return self in (Series.G, Series.NPT)

    @property
    def classes(self) -> tuple[str, ...]:
        """Classes of the internal thread that this package knows; none for pipe threads."""
        if self.is_unified:
            return UNIFIED_CLASSES
        return METRIC_CLASSES if self.is_metric else ()


@dataclass(frozen=True)
class Designation:
    """One standard thread.

    Attributes
    ----------
    series
    size            as it is written: '#10', '1 1/8', '8'
    major_mm        nominal major diameter (of NPT: the pipe's outside diameter)
    pitch_mm
    thread_class    if given
    """

    series: Series
    size: str
    major_mm: float
    pitch_mm: float
    thread_class: str | None = None

    @property
    def is_inch(self) -> bool:
        """Whether this thread is drilled from the inch series."""
        return self.series.is_unified or self.series is Series.NPT

    @property
    def major_in(self) -> float:
        """Nominal major diameter in inches (of NPT: the pipe's outside diameter)."""
        return round(self.major_mm / MM_PER_INCH, 9)

    @property
    def tpi(self) -> float:
        """Threads per inch."""
        return round(MM_PER_INCH / self.pitch_mm, 9)

    @property
    def text(self) -> str:
        """The designation as standards write it: '3/8-16 UNC-2B', 'M8x1-6H', 'G 1/4', '1/8-27 NPT'."""
        return self.basic_text + (f"-{self.thread_class}" if self.thread_class else "")

    @property
    def basic_text(self) -> str:
        """The designation without its class."""
        if self.series is Series.G:
            return f"G {self.size}"
        if self.series.is_metric:
            return f"M{self.size}" + (f"x{self.pitch_mm:g}" if self.series is Series.METRIC_FINE else "")
        word = "UN" if self.series is Series.UN_8 else self.series.value
        return f"{self.size}-{self.tpi:g} {word}"

    def of_class(self, thread_class: str | None) -> Designation:
        """The same thread in another class.

        Raises
        ------
        InputError    a class that this series does not have
        """
        if thread_class is not None and thread_class not in self.series.classes:
            raise InputError.of(
                "class",
                phrase(
                    "{basic_text} has no class '{thread_class}'", basic_text=self.basic_text, thread_class=thread_class
                ),
                self._right_class(),
            )
        return replace(self, thread_class=thread_class)

    def _right_class(self) -> str:
        classes = self.series.classes
        return f"write {one_of(classes)}" if classes else "write it without a class"


def one_of(choices: Sequence[str]) -> Phrase:
    """Choices as a sentence lists them: 'a', 'a or b', 'a, b or c'."""
    *others, last = choices
    return phrase("{others} or {last}", others=joined(others), last=last) if others else phrase("{last}", last=last)


def fraction_text(value: Fraction) -> str:
    """A fraction as drawings write it: '3/8', '1 1/8', '2'."""
    whole, rest = divmod(value, 1)
    return " ".join([str(whole)] * bool(whole or not rest) + [str(rest)] * bool(rest))


def positive(field: str, value: ArrayLike, unit: str = "mm") -> Floats:
    """The value as an array of doubles, all finite and above 0.

    Parameters
    ----------
    field    name for the message
    value    a number or an array
    unit     of the value, for the message

    Raises
    ------
    InputError    names `field` and the first value that is not
    """
    values = np.asarray(value, float)
    bad = ~(np.isfinite(values) & (values > 0))
    if bad.any():
        raise InputError.of(
            field,
            phrase("{number} is not possible", number=rounded(float(values[bad].flat[0]))),
            phrase("write a number above 0, in {unit}", unit=unit),
        )
    return values
