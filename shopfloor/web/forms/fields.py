"""The form fields: each has its label, hint and keyboard. What values mean is decided in the core.

A form reads and shows what was typed; it judges nothing. The service that takes the values says what is wrong with
them, and `explain` puts its words beside the fields.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import wtforms
from flask import Flask
from wtforms import (  # type: ignore[attr-defined]  # the stubs lag behind
    Field,
    HiddenField,
    PasswordField,
    RadioField,
    SelectChoice,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.widgets import CheckboxInput

from shopfloor.core.errors import InputError
from shopfloor.core.input.passwords import LONGEST_PASSWORD
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NAME, LONGEST_NOTE
from shopfloor.core.phrases import phrase
from shopfloor.core.threads.designations import standard_threads
from shopfloor.core.vocabulary import Word
from shopfloor.web.i18n.field_names import sentence
from shopfloor.web.i18n.language import say, spoken

__all__ = [
    "NOT_SAID",
    "TO_CHOOSE",
    "CodeField",
    "Complaint",
    "CountField",
    "Form",
    "HiddenField",
    "ListField",
    "MeasureField",
    "MomentField",
    "NameField",
    "NoteField",
    "PickField",
    "SecretField",
    "SeveralField",
    "ThreadField",
    "WordField",
    "explain",
    "raw",
]

Pairs = Iterable[tuple[str, str]]

NOT_SAID = ("", phrase("Not given"))
"""First option of an optional list."""

TO_CHOOSE = ("", phrase("Choose ..."))
"""First option of a required list: nothing is preselected."""

_CODE_KEYS = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


def install(app: Flask) -> None:
    """Register the filter with which templates tie an input to its hint and its errors, and the threads to offer."""
    app.add_template_filter(described)
    app.add_template_filter(sentence)
    app.add_template_global(thread_names)


class Form(wtforms.Form):
    """A form whose labels, hints and lists speak the page's language."""

    class Meta:
        """How fields are made; WTForms looks for it by this name."""

        def bind_field(self, form: Form, unbound_field: Any, options: dict[str, Any]) -> Field:
            """The field of this form, in the page's language."""
            field: Field = unbound_field.bind(form=form, **options)
            field.label.text = say(field.label.text)
            field.description = say(field.description)
            if isinstance(field, SelectField):
                field.choices = _spoken(field.choices or ())
            return field


class NameField(StringField):
    """A name in the shop's own words."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"autocomplete": "off", "maxlength": LONGEST_NAME}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class CodeField(StringField):
    """A code typed or scanned."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {**_CODE_KEYS, "maxlength": LONGEST_CODE}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class ThreadField(StringField):
    """A thread as people write it; the browser offers standard ones, a script those that fit what is typed."""

    def __init__(self, label: str, *, hint: str = "Like 3/8-16, #10-32 or M8x1.", **keywords: Any) -> None:
        keys = {**_CODE_KEYS, "maxlength": LONGEST_CODE, "list": "threads", "data-suggests": "threads"}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class CountField(StringField):
    """A whole number typed as digits. Never a number field: those drop letters silently and change when scrolled."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"inputmode": "numeric", "pattern": "[0-9]*", "autocomplete": "off", "data-keypad-field": ""}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class MeasureField(StringField):
    """A number that may have decimals."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class MomentField(StringField):
    """A date and a time of the shop's clock, as every page writes them."""

    def __init__(self, label: str, **keywords: Any) -> None:
        super().__init__(label, description=phrase("As 2026-03-31 14:05."), render_kw=dict(_CODE_KEYS), **keywords)


class NoteField(TextAreaField):
    """Free text."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"rows": 2, "maxlength": LONGEST_NOTE, "autocomplete": "off"}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class SecretField(PasswordField):
    """A PIN or a password: not shown, never sent back; pasting is allowed."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        keys = {"autocomplete": "off", "maxlength": LONGEST_PASSWORD}
        super().__init__(label, description=hint, render_kw=keys, **keywords)


class ListField(TextAreaField):
    """Codes, one a line."""

    def __init__(self, label: str, *, hint: str = "", **keywords: Any) -> None:
        super().__init__(label, description=hint, render_kw={**_CODE_KEYS, "rows": 4}, **keywords)


class WordField(RadioField):
    """One trade term, chosen by touching it; all are in sight."""

    def __init__(self, label: str, words: type[Word] | Pairs = (), *, hint: str = "", **keywords: Any) -> None:
        super().__init__(label, description=hint, choices=_choices(words), validate_choice=False, **keywords)

    def offer(self, pairs: Pairs) -> None:
        """Let a person choose among these (value, label)."""
        self.choices = _spoken(_choices(pairs))


class SeveralField(SelectMultipleField):
    """Several trade terms, each touched separately."""

    option_widget = CheckboxInput()

    def __init__(self, label: str, words: type[Word] | Pairs = (), *, hint: str = "", **keywords: Any) -> None:
        super().__init__(label, description=hint, choices=_choices(words), validate_choice=False, **keywords)


class PickField(SelectField):
    """One of a drop-down list, which shows `first` until something is chosen."""

    def __init__(
        self,
        label: str,
        words: type[Word] | Pairs = (),
        *,
        hint: str = "",
        first: tuple[str, str] = NOT_SAID,
        **keywords: Any,
    ) -> None:
        self._first = first
        choices = [SelectChoice(*first), *_choices(words)]
        super().__init__(label, description=hint, choices=choices, validate_choice=False, **keywords)

    def offer(self, pairs: Pairs) -> None:
        """Let a person choose among these (value, label)."""
        self.choices = _spoken([SelectChoice(*self._first), *_choices(pairs)])

    def said(self) -> str:
        """The label of the chosen option; empty if none is chosen."""
        return next((str(option.label.text) for option in self if self.data and option.checked), "")


def _choices(words: type[Word] | Pairs) -> list[SelectChoice]:
    pairs = words.choices() if isinstance(words, type) else words
    return [SelectChoice(*pair) for pair in pairs]


def _spoken(choices: Iterable[Any]) -> list[SelectChoice]:
    """The options in the page's language; the shop's own words stay as they are."""
    return [SelectChoice(choice.value, spoken(choice.label)) for choice in choices]


def raw(form: Form) -> dict[str, str]:
    """What was typed, by the field's name."""
    typed = {name: field.data or "" for name, field in form._fields.items()}
    return {name: " ".join(value) if isinstance(value, list) else value for name, value in typed.items()}


@dataclass(frozen=True)
class Complaint:
    """One line of the error summary, and the id of the element it is about; `lead` is that field's label."""

    field: str
    advice: str
    lead: str = ""

    def sentence(self) -> str:
        """The line."""
        return f"{self.lead} {self.advice}".lstrip()


def explain(
    form: Form,
    error: InputError,
    elsewhere: Mapping[str, str] | None = None,
    called: Mapping[str, str] | None = None,
) -> Sequence[Complaint]:
    """Put each problem beside its field and return the lines of the summary.

    `elsewhere` maps a field without an input to the element that stands for it; `called` maps a service's field name
    to the form's.
    """
    complaints = []
    for problem in error.problems:
        name = problem.field.replace(" ", "_")
        field = form._fields.get((called or {}).get(name, name))
        if field is None or isinstance(field, HiddenField):
            complaints.append(Complaint((elsewhere or {}).get(problem.field, "main"), sentence(problem)))
            continue
        advice = f"{say(problem.what)}; {say(problem.remedy)}"
        field.errors = [*field.errors, advice[:1].upper() + advice[1:]]
        complaints.append(Complaint(_first_input(field), advice, _as_lead(field.label.text)))
    return complaints


def _first_input(field: Field) -> str:
    return f"{field.id}-0" if isinstance(field, RadioField | SeveralField) else field.id


def _as_lead(label: str) -> str:
    """A label as the lead of its complaint: a question keeps its mark, anything else gets a colon."""
    return label if label.endswith("?") else f"{label}:"


@cache
def thread_names() -> tuple[str, ...]:
    """The designation of every standard thread."""
    return tuple(thread.text for thread in standard_threads())


def described(field: Field) -> dict[str, str]:
    """Attributes that tie an input to its hint, its errors and the question about it."""
    parts = [f"{field.id}-hint"] if field.description else []
    parts += [f"{field.id}-error"] if field.errors else []
    parts += [f"{field.id}-doubt"] if getattr(field, "doubts", ()) else []
    return ({"aria-describedby": " ".join(parts)} if parts else {}) | ({"aria-invalid": "true"} if field.errors else {})
