"""Values as a person would read, type or choose them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from shopfloor.core.phrases import both_lengths, figure, joined, phrase, rounded, torque
from shopfloor.core.vocabulary import Word

NOT_SAID = phrase("not said")
_TWO_WAYS = {"is_blind": (phrase("through"), phrase("blind")), "is_open": (phrase("closed"), phrase("open"))}
_NO_YES = (phrase("no"), phrase("yes"))


def field_of(column: str) -> str:
    """Name of the form field for a column."""
    return {"is_blind": "hole", "roles": "role"}.get(column, column.removesuffix("_id"))


def in_words(name: str, value: Any) -> str:
    """The value of column `name` in words; for a reference, the name of what it refers to."""
    if value is None:
        return NOT_SAID
    if isinstance(value, bool):
        return _TWO_WAYS.get(name, _NO_YES)[value]
    if name.endswith("_mm"):
        return both_lengths(value)
    if name.endswith("_nm"):
        return torque(value)
    if isinstance(value, Decimal):
        return figure(f"{value:.2f}" if value % 1 else f"{value:.0f}")
    if isinstance(value, float):
        return rounded(value)
    return _of_words(value)


def _of_words(value: Any) -> str:
    if isinstance(value, Word):
        return value.label
    if isinstance(value, Sequence) and not isinstance(value, str):
        return joined(one.role.label for one in value) if value else NOT_SAID
    return value.isoformat() if isinstance(value, date) else getattr(value, "name", None) or str(value)
