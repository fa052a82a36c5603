"""Query parameters of the pages: each value checked, each refusal naming its field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Cause, Mode, Word
from shopfloor.services.quality.breakage import Period
from shopfloor.services.quality.life_curves import LifeQuestion

_Word = TypeVar("_Word", bound=Word)
_LONGEST_PAGE = 6

Asked = Mapping[str, str]


def text(asked: Asked, field: str) -> str | None:
    """A value as typed; None if it is missing or empty."""
    return asked.get(field, "").strip() or None


def word(asked: Asked, field: str, vocabulary: type[_Word]) -> _Word | None:
    """A trade term; None if it is missing."""
    typed = text(asked, field)
    if typed is None:
        return None
    for known in vocabulary:
        if known.value == typed:
            return known
    choices = ", ".join(known.value for known in vocabulary)
    raise InputError.of(
        field,
        phrase("'{typed}' is not one of the choices", typed=typed[:60]),
        phrase("choose one of: {choices}", choices=choices),
    )


def period(asked: Asked) -> Period:
    """How far back; the whole log by default."""
    return word(asked, "period", Period) or Period.ALL


def cause(asked: Asked) -> Cause | None:
    """One likely cause, or None for all."""
    return word(asked, "cause", Cause)


def page(asked: Asked) -> int:
    """Which page of a list, from 1."""
    typed = text(asked, "page") or "1"
    if not (typed.isascii() and typed.isdigit() and len(typed) <= _LONGEST_PAGE):
        raise InputError.of("page", phrase("'{typed}' is not a page", typed=typed[:60]), "give 1, 2, 3 ...")
    return int(typed)


def life(asked: Asked) -> LifeQuestion:
    """Which lives to show."""
    return LifeQuestion(
        text(asked, "tap_type"), text(asked, "material"), text(asked, "speed"), word(asked, "mode", Mode)
    )
