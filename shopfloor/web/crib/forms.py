"""The crib's forms. Fields keep what was typed; what is wrong with it the services say, in one voice for every door."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

from flask import session
from flask_wtf import FlaskForm
from wtforms import (  # type: ignore[attr-defined]  # the stubs lag behind
    Field,
    HiddenField,
    RadioField,
    SelectChoice,
    SelectField,
    StringField,
    TextAreaField,
)

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.vocabulary import Chamfer, GaugeResult, MovementKind, Substrate, TapStyle
from shopfloor.services.movements import people
from shopfloor.services.tap_types import tap_type_codes
from shopfloor.web.context import work

_REMEMBERED = "crib_person"
NONE_YET, A_NUMBER, NOT_KNOWN = "none", "number", "not known"
_DIGITS = {"inputmode": "numeric", "autocomplete": "off"}
_NO_SPELLING = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}

USED_CHOICES = [
    (NONE_YET, "None: they are new"),
    (A_NUMBER, "A number"),
    (NOT_KNOWN, "Used, nobody knows how much"),
]
BOX_CHOICES = [
    (MovementKind.COUNTED.value, "Counted: so many ready taps are here"),
    (MovementKind.SCRAPPED.value, "Scrapped: so many leave"),
    (MovementKind.LOST.value, "Lost: so many are gone"),
]


def offered(pairs: Iterable[tuple[str, str]]) -> list[SelectChoice]:
    """Choices of a field."""
    return [SelectChoice(*pair) for pair in pairs]


def one_of(pairs: Iterable[tuple[str, str]]) -> list[SelectChoice]:
    """The same, with nothing chosen at first."""
    return offered([("", "Choose ..."), *pairs])


class CribForm(FlaskForm):
    """A form that shows the problems that a service found at the fields they belong to."""

    also_named: ClassVar[Mapping[str, str]] = {}
    """Names by which services call a field, where they differ from the form's."""

    id = HiddenField()

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        if not self.id.data:
            self.id.data = str(uuid.uuid4())

    def raw(self) -> dict[str, str]:
        """What was typed, by field."""
        return {field.short_name: field.data or "" for field in self}

    def refuse(self, error: InputError) -> list[Problem]:
        """Put each problem to its field; returns all of them with the fields' ids, for the summary."""
        return [self._placed(problem) for problem in error.problems]

    def _placed(self, problem: Problem) -> Problem:
        fields: dict[str, Field] = {field.short_name: field for field in self}
        name = problem.field.replace(" ", "_")
        field = fields.get(self.also_named.get(name, name))
        if field is None:
            return problem
        field.errors = [*field.errors, f"{problem.what}; {problem.remedy}"]
        return Problem(field.id, f"{field.label.text}: {problem.what}", problem.remedy)


class BookedForm(CribForm):
    """A form that asks who books it; the last one is offered."""

    person = SelectField("Who books this", validate_choice=False)
    note = StringField("Note", render_kw=_NO_SPELLING)

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.person.choices = one_of(people(work()))
        if not self.is_submitted():
            self.person.data = session.get(_REMEMBERED, "")

    def remember(self) -> None:
        """Offer the same person next time."""
        session[_REMEMBERED] = self.person.data


class GaugeForm(BookedForm):
    """A GO/NO-GO check."""

    result = RadioField(
        "GO/NO-GO gauge on the last thread", choices=offered(GaugeResult.choices()), validate_choice=False
    )


class MoveForm(BookedForm):
    """What becomes of one tap."""

    movement = RadioField("What happens to the tap", choices=[], validate_choice=False)

    def offer(self, moves: Sequence[MovementKind]) -> None:
        """Let a person choose among these movements."""
        self.movement.choices = offered((move.value, move.label) for move in moves)


class BoxForm(BookedForm):
    """A count of the crib, or unmarked taps that leave it."""

    movement = RadioField("What is booked", choices=offered(BOX_CHOICES), validate_choice=False)
    number = StringField("How many taps", render_kw=_DIGITS)


class DeliveryForm(BookedForm):
    """New taps."""

    also_named: ClassVar[Mapping[str, str]] = {"tap": "codes"}

    tap_type = SelectField("Tap type", validate_choice=False)
    number = StringField("How many taps", render_kw=_DIGITS)
    codes = TextAreaField("Codes, one a line, where the taps are marked", render_kw={"rows": 4, **_NO_SPELLING})
    lot = StringField("Lot", render_kw=_NO_SPELLING)
    used = RadioField(
        "Holes on them already",
        choices=offered(USED_CHOICES),
        default=NONE_YET,
        validate_choice=False,
    )
    holes_before = StringField("Holes on each", render_kw=_DIGITS)

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.tap_type.choices = one_of((code, code) for code in tap_type_codes(work()))


class TapTypeForm(CribForm):
    """A new kind of tap."""

    code = StringField("Code, as the shop calls it", render_kw=_NO_SPELLING)
    thread = StringField("Thread", render_kw=_NO_SPELLING)
    style = SelectField("Style", choices=one_of(TapStyle.choices()), validate_choice=False)
    chamfer = SelectField("Chamfer", choices=one_of(Chamfer.choices()), validate_choice=False)
    substrate = SelectField("Made of", choices=one_of(Substrate.choices()), validate_choice=False)
    coating = StringField("Coating", render_kw=_NO_SPELLING)
    supplier = StringField("Supplier", render_kw=_NO_SPELLING)
    unit_cost = StringField("Price of one tap", render_kw={"inputmode": "decimal", "autocomplete": "off"})
    lead_time_days = StringField("Lead time, days", render_kw=_DIGITS)
