"""Fields of our forms: each carries its label, its hint and its keyboard. What values mean is decided in the core.

A form reads and shows what was typed; it judges nothing. The service that takes the values says what is wrong with
them, and `explain` puts its words beside the fields.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wtforms import (  # type: ignore[attr-defined]  # the stubs lag behind
    Form,
    HiddenField,
    RadioField,
    SelectChoice,
    SelectField,
    StringField,
    TextAreaField,
)

from shopfloor.core.entries import LONGEST_CODE, LONGEST_NOTE
from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import Word

__all__ = [
    "CodeField",
    "Complaint",
    "CountField",
    "HiddenField",
    "NoteField",
    "PickField",
    "WordField",
    "explain",
    "options",
]

NOT_SAID = ("", "Not said")


def options(pairs: Iterable[tuple[str, str]]) -> list[SelectChoice]:
    """Choices of a field from (value, label) pairs."""
    return [SelectChoice(*pair) for pair in pairs]


class CountField(StringField):
    """A whole number typed as digits. Never a number field: those drop letters silently and change when scrolled."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"inputmode": "numeric", "pattern": "[0-9]*", "autocomplete": "off", "data-keypad-field": ""}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class CodeField(StringField):
    """A code typed or scanned."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "maxlength": LONGEST_CODE}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class NoteField(TextAreaField):
    """Free text."""

    def __init__(self, label: str, *, hint: str = "", rows: int = 2, **keywords: Any) -> None:
        keys = {"rows": rows, "maxlength": LONGEST_NOTE, "autocomplete": "off"}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class WordField(RadioField):
    """One word of the trade, chosen by a tile."""

    def __init__(self, label: str, vocabulary: type[Word], *, hint: str = "", **keywords: Any) -> None:
        choices = options(vocabulary.choices())
        super().__init__(label, description=hint, choices=choices, validate_choice=False, **keywords)


class PickField(SelectField):
    """One of a list that folds out; 'Not said' where nothing has to be chosen."""

    def __init__(
        self,
        label: str,
        vocabulary: type[Word] | None = None,
        *,
        hint: str = "",
        optional: bool = True,
        **keywords: Any,
    ) -> None:
        choices = options([*([NOT_SAID] if optional else []), *(vocabulary.choices() if vocabulary else [])])
        super().__init__(label, description=hint, choices=choices, validate_choice=False, **keywords)

    def said(self) -> str:
        """The label of what is chosen; empty where nothing is."""
        return next((str(option.label.text) for option in self if self.data and option.checked), "")


@dataclass(frozen=True)
class Complaint:
    """One line of the error summary, and the id of what it speaks of."""

    field: str
    text: str

    def sentence(self) -> str:
        """The line."""
        return self.text


def explain(form: Form, error: InputError, elsewhere: Mapping[str, str] | None = None) -> Sequence[Complaint]:
    """Put each problem beside its field and return the lines of the summary.

    `elsewhere` names the element that stands for a field without an input of its own.
    """
    complaints = []
    for problem in error.problems:
        field = form._fields.get(problem.field.replace(" ", "_"))
        advice = f"{problem.what}; {problem.remedy}"
        if field is None or isinstance(field, HiddenField):
            place = (elsewhere or {}).get(problem.field, "main")
            complaints.append(Complaint(place, problem.sentence()))
            continue
        field.errors = [*field.errors, advice[:1].upper() + advice[1:]]
        place = f"{field.id}-0" if isinstance(field, RadioField) else field.id
        complaints.append(Complaint(place, f"{field.label.text}: {advice}"))
    return complaints
