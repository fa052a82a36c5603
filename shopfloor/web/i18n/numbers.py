"""Number notation by country: decimal point or comma, and the thousands separator."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from babel import Locale

_FEWEST_GROUPED = 5


@dataclass(frozen=True)
class Marks:
    """Decimal mark, thousands separator, and from how many digits it is used."""

    decimal: str
    thousands: str
    fewest_grouped: int


_MARKS = {
    "en": Marks(".", ",", 4),
    # A space between thousands cannot be mistaken for a decimal mark: the orthography of the Spanish academies
    # (2010) and ISO 80000-1 require it, from five digits on.
    "es": Marks(",", "\u202f", _FEWEST_GROUPED),
}
"""If the shop's country is not set."""


def written(english: str, locale: str) -> str:
    """A number in English notation ('1,234.5') converted to that of a locale ('es', 'es_MX')."""
    used = marks(locale)
    whole, point, decimals = english.partition(".")
    digits = sum(letter.isdigit() for letter in whole)
    between = used.thousands if digits >= used.fewest_grouped else ""
    return whole.replace(",", between) + (used.decimal if point else "") + decimals


@cache
def marks(locale: str) -> Marks:
    """The decimal mark and thousands separator of a locale."""
    if locale in _MARKS:
        return _MARKS[locale]
    symbols = Locale.parse(locale).number_symbols["latn"]
    return Marks(symbols["decimal"], symbols["group"], 4 if symbols["group"] == "," else _FEWEST_GROUPED)
