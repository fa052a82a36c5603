"""English text that remembers its pattern and values, so that a page can show it in another language.

The core, and whatever prints on a terminal, speaks English: a `Phrase` is that English text. A page looks the pattern
up in a catalogue and inserts the same values, written as is usual in its language.
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
    pattern    the text, with {names} for values
    plural     the pattern for any number but one; None where the text does not count
    number     decides between the two
    values     the values, by name
    is_small   whether it is to be written without capitals
    """

    pattern: str
    plural: str | None
    number: float
    values: Mapping[str, object]
    is_small: bool = False

    @classmethod
    def of(cls, pattern: str, plural: str | None, number: float, values: Mapping[str, object]) -> Phrase:
        """The phrase in English.

        Parameters
        ----------
        pattern    the text, with {names} for values
        plural     the pattern for any number but one; None where the text does not count
        number     decides between the two
        values     the values, by name
        """
        chosen = pattern if plural is None or number == 1 else plural
        made = cls(chosen.format(**{name: _in_english(value) for name, value in values.items()}) if values else chosen)
        made.pattern, made.plural, made.number, made.values = pattern, plural, number, values
        return made

    def lower(self) -> Phrase:
        """The same without capitals, for use within a sentence."""
        made = Phrase(super().lower())
        made.__dict__.update(self.__dict__, is_small=True)
        return made


class Figure(str):
    """A number as English writes it, rounded for reading; a page writes it as its own language does."""


def figure(english: str) -> Figure:
    """An already rounded number for a phrase: phrase("{cost} a tap", cost=figure(f"{cost:.2f}"))."""
    return Figure(english)


def rounded(value: float, digits: int = 6) -> Figure:
    """A number to so many significant figures, without powers of ten: '0.0012', '1,200', '100'.

    Numbers too small or large to be read like this, as in a message about what was typed, keep the power of ten.
    """
    if value and not _SMALLEST <= abs(value) < _LARGEST:
        return Figure(f"{value:.{digits}g}")
    text = f"{Decimal(f'{value:.{digits - 1}e}'):,f}"
    return Figure(text.rstrip("0").rstrip(".") if "." in text else text)


class Measurement(str):
    """A quantity as metric English writes it; a page writes it in its own units.

    Attributes
    ----------
    quantity   what is measured
    metric     its value in mm, m/min or N m; for a band its two ends
    """

    quantity: Quantity
    metric: tuple[float, ...]

    @classmethod
    def of(cls, text: str, quantity: Quantity, *metric: float) -> Measurement:
        """The measurement with its metric English.

        Parameters
        ----------
        text        the value with its unit
        quantity    what is measured
        metric      the value in mm, m/min or N m; for a band its two ends
        """
        made = cls(text)
        made.quantity, made.metric = quantity, metric
        return made


class Quantity(Enum):
    """What a measurement measures, so that a page can write it in its own way."""

    LENGTH = "length"
    BOTH_LENGTHS = "length in both units"
    LARGEST_THREAD = "diameter of the largest thread"
    SURFACE_SPEED = "surface speed"
    SPEED_BAND = "band of surface speeds"
    TORQUE = "torque"


def length(mm: float, digits: int = 4) -> Measurement:
    """A length for a phrase, rounded to so many significant figures: phrase("drill {depth}", depth=length(2.5))."""
    return Measurement.of(f"{rounded(mm, digits)} mm", Quantity.LENGTH, mm)


def both_lengths(mm: float) -> Measurement:
    """A length that a page writes in its own units and in the others, echoing what was typed in one of them."""
    return Measurement.of(f"{rounded(mm, 4)} mm", Quantity.BOTH_LENGTHS, mm)


def largest_thread(mm: float) -> Measurement:
    """The diameter of a station's largest thread; a page adds the thread of its own system of that size."""
    return Measurement.of(f"{rounded(mm, 3)} mm", Quantity.LARGEST_THREAD, mm)


def surface_speed(m_min: float, digits: int = 3) -> Measurement:
    """A surface speed for a phrase."""
    return Measurement.of(f"{rounded(m_min, digits)} m/min", Quantity.SURFACE_SPEED, m_min)


def torque(nm: float, digits: int = 3) -> Measurement:
    """A torque for a phrase; a page in inches writes foot- or inch-pounds before it."""
    return Measurement.of(f"{rounded(nm, digits)} N m", Quantity.TORQUE, nm)


def phrase(pattern: str, /, **values: object) -> Phrase:
    """A text, with values where it has any: phrase("{text} is not a number", text="'x'")."""
    return Phrase.of(pattern, None, 1, values)


def phrase_of(number: float, one: str, many: str, /, **values: object) -> Phrase:
    """A text that counts: phrase_of(2, "{n} tap is due", "{n} taps are due", n=2).

    Parameters
    ----------
    number    decides between the two
    one       pattern for one
    many      pattern for any other number
    values    for the names in the pattern
    """
    return Phrase.of(one, many, number, values)


def joined(parts: Iterable[str], between: str = ", ") -> Phrase:
    """Texts joined into one phrase; parts that are phrases remain translatable."""
    values = {f"part{place}": part for place, part in enumerate(parts)}
    return phrase(between.join(f"{{{name}}}" for name in values), **values)


def _in_english(value: object) -> str:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return f"{value:,}" if isinstance(value, int) else rounded(value)


def counted(number: float, one: str, many: str | None = None) -> Phrase:
    """A count with its noun: '1 tap', '2,000 taps', '0 batches'.

    Parameters
    ----------
    number    the count, rounded to a whole number
    one       the noun for one
    many      the plural; None: `one` with an 's'
    """
    whole = round(number)
    return phrase_of(whole, f"{{number}} {one}", f"{{number}} {many or f'{one}s'}", number=whole)


def one_in(chance: float) -> int | None:
    """The n of 'about 1 in n', rounded as a person would say it; None for no chance, or above one half.

    References
    ----------
    common practice, no source

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
