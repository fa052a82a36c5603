"""English text that still knows its pattern and what was put into it, so that a screen can say it in another language.

The core, and whatever prints on a terminal, speaks English: a `Phrase` is that English text. What draws a page looks
its pattern up in a catalogue and puts the same values in, written as people there write them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from enum import Enum

_SMALLEST, _LARGEST = 1e-12, 1e16


class Phrase(str):
    """A text with its pattern.

    Attributes
    ----------
    pattern    the text, with {names} where values stand
    plural     the pattern for any number but one; None where the text does not count
    number     what `plural` goes by
    values     what stands in the braces
    is_small   whether it is to be written without capitals
    """

    pattern: str
    plural: str | None
    number: float
    values: Mapping[str, object]
    is_small: bool = False

    @classmethod
    def of(cls, pattern: str, plural: str | None, number: float, values: Mapping[str, object]) -> Phrase:
        """The phrase in English."""
        chosen = pattern if plural is None or number == 1 else plural
        made = cls(chosen.format(**{name: _in_english(value) for name, value in values.items()}) if values else chosen)
        made.pattern, made.plural, made.number, made.values = pattern, plural, number, values
        return made

    def lower(self) -> Phrase:
        """The same without capitals, as within a sentence."""
        made = Phrase(super().lower())
        made.__dict__.update(self.__dict__, is_small=True)
        return made


class Figure(str):
    """A number as English writes it, rounded as it is to be read; a page writes it as its own language does."""


def figure(english: str) -> Figure:
    """A number that is rounded already within a phrase: phrase("{cost} a tap", cost=figure(f"{cost:.2f}"))."""
    return Figure(english)


def rounded(value: float, digits: int = 6) -> Figure:
    """A number to so many significant figures, not in powers of ten: '0.0012', '1,200', '100'.

    But for numbers that nobody could read so, as in a message of one that was typed.
    """
    if value and not _SMALLEST <= abs(value) < _LARGEST:
        return Figure(f"{value:.{digits}g}")
    text = f"{Decimal(f'{value:.{digits - 1}e}'):,f}"
    return Figure(text.rstrip("0").rstrip(".") if "." in text else text)


class Measurement(str):
    """A quantity as metric English writes it; a page writes it in the units of the job.

    Attributes
    ----------
    quantity   what it is
    metric     in mm, m/min or N m; of a band its two ends
    """

    quantity: Quantity
    metric: tuple[float, ...]

    @classmethod
    def of(cls, text: str, quantity: Quantity, *metric: float) -> Measurement:
        """The measure with its metric English."""
        made = cls(text)
        made.quantity, made.metric = quantity, metric
        return made


class Quantity(Enum):
    """What a measure measures, where a page has to write it in its own way."""

    LENGTH = "length"
    BOTH_LENGTHS = "length in both units"
    LARGEST_THREAD = "diameter of the largest thread"
    SURFACE_SPEED = "surface speed"
    SPEED_BAND = "band of surface speeds"
    TORQUE = "torque"


def length(mm: float, digits: int = 4) -> Measurement:
    """A length within a phrase: phrase("drill {depth} deeper", depth=length(2.5)); to so many `digits` in mm."""
    return Measurement.of(f"{rounded(mm, digits)} mm", Quantity.LENGTH, mm)


def both_lengths(mm: float) -> Measurement:
    """A length that a page writes in its own units and in the others, as an echo of what was typed in one of them."""
    return Measurement.of(f"{rounded(mm, 4)} mm", Quantity.BOTH_LENGTHS, mm)


def largest_thread(mm: float) -> Measurement:
    """The diameter of a station's largest thread; a page adds the thread of its own system that goes so far."""
    return Measurement.of(f"{rounded(mm, 3)} mm", Quantity.LARGEST_THREAD, mm)


def surface_speed(m_min: float, digits: int = 3) -> Measurement:
    """A surface speed within a phrase."""
    return Measurement.of(f"{rounded(m_min, digits)} m/min", Quantity.SURFACE_SPEED, m_min)


def torque(nm: float, digits: int = 3) -> Measurement:
    """A torque within a phrase; a page in inches writes foot- or inch-pounds before it."""
    return Measurement.of(f"{rounded(nm, digits)} N m", Quantity.TORQUE, nm)


def phrase(pattern: str, /, **values: object) -> Phrase:
    """A text, or one with values: phrase("{text} is no number", text="'x'")."""
    return Phrase.of(pattern, None, 1, values)


def phrase_of(number: float, one: str, many: str, /, **values: object) -> Phrase:
    """A text that counts: phrase_of(2, "{n} tap is due", "{n} taps are due", n=2)."""
    return Phrase.of(one, many, number, values)


def joined(parts: Iterable[str], between: str = ", ") -> Phrase:
    """Texts one after the other, each still a phrase where it was one."""
    values = {f"part{place}": part for place, part in enumerate(parts)}
    return phrase(between.join(f"{{{name}}}" for name in values), **values)


def _in_english(value: object) -> str:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return f"{value:,}" if isinstance(value, int) else rounded(value)


def counted(number: float, one: str, many: str | None = None) -> Phrase:
    """A count with its noun in the right number: '1 tap', '2,000 taps', '0 batches' (`many` where no 's' will do)."""
    whole = round(number)
    return phrase_of(whole, f"{{number}} {one}", f"{{number}} {many or f'{one}s'}", number=whole)


def one_in(chance: float) -> int | None:
    """The n of 'about 1 in n', rounded as a person would say it; None for no chance, or for more likely than not.

    References: common practice, no source.

    Examples
    --------
    >>> one_in(0.083), one_in(0.0123), one_in(0.6), one_in(0.0)
    (12, 80, None, None)
    """
    if not 0 < chance <= 0.5:
        return None
    n = 1 / chance
    grain = 1 if n < 20 else 5 if n < 50 else 10 ** math.floor(math.log10(n))
    return round(n / grain) * grain
