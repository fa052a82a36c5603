"""Numbers as people write them: the point or the comma before decimals, and what stands between thousands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from babel import Locale

_FEWEST_GROUPED = 5


@dataclass(frozen=True)
class Marks:
    """What stands before decimals, what between thousands, and from how many digits on thousands are parted."""

    decimal: str
    thousands: str
    fewest_grouped: int


_MARKS = {
    "en": Marks(".", ",", 4),
    # A blank between thousands can be taken for neither mark of decimals: the orthography of the Spanish academies
    # (2010) and ISO 80000-1 ask for it, from five digits on.
    "es": Marks(",", "\u202f", _FEWEST_GROUPED),
}
"""Where nobody has said in which country the shop is."""


def written(english: str, locale: str) -> str:
    """A number that is written in English ('1,234.5'), as people write it there ('es', 'es_MX')."""
    used = marks(locale)
    whole, point, decimals = english.partition(".")
    digits = sum(letter.isdigit() for letter in whole)
    between = used.thousands if digits >= used.fewest_grouped else ""
    return whole.replace(",", between) + (used.decimal if point else "") + decimals


@cache
def marks(locale: str) -> Marks:
    """How people there mark decimals and thousands."""
    if locale in _MARKS:
        return _MARKS[locale]
    symbols = Locale.parse(locale).number_symbols["latn"]
    return Marks(symbols["decimal"], symbols["group"], 4 if symbols["group"] == "," else _FEWEST_GROUPED)
