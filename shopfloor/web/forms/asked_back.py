"""Implausible numbers are queried at their field and at the button, where one touch confirms them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopfloor.core.input.plausibility import Doubt, Doubtful, all_answers
from shopfloor.web.forms.fields import Form
from shopfloor.web.i18n.language import say

SURE = "sure"
"""The form field that carries what was confirmed."""


@dataclass(frozen=True)
class Asked:
    """The question at the button: its lines, the button's label and value, and the field to correct instead."""

    lines: tuple[str, ...]
    answer: str
    sure: str
    field: str


def ask_at(form: Form, doubtful: Doubtful) -> Asked:
    """Put each question beside its field, and return the one at the button."""
    doubts = doubtful.doubts
    for doubt in doubts:
        # As WTForms keeps `errors` on a field.
        setattr(form[doubt.field], "doubts", [say(doubt.question)])  # noqa: B010
    lines = tuple(_line(form, doubt) for doubt in doubts)
    return Asked(lines, say(all_answers(doubts)), _sure(doubts), str(form[doubts[0].field].id))


def _line(form: Form, doubt: Doubt) -> str:
    return f"{form[doubt.field].label.text}: {say(doubt.question)}"


def _sure(doubts: Sequence[Doubt]) -> str:
    return " ".join(doubt.mark for doubt in doubts)
