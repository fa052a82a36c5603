"""The forms of the access pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shopfloor.core.input.access_entries import NO, YES, Access
from shopfloor.core.phrases import phrase
from shopfloor.services.access.credentials import Holder
from shopfloor.web.forms.fields import TO_CHOOSE, CountField, Form, NameField, PickField, SecretField, WordField
from shopfloor.web.i18n.language import say


class RulesForm(Form):
    """Log-in rules."""

    is_in_use = WordField("PINs", [(YES, phrase("In use")), (NO, phrase("Not in use"))])
    idle_minutes = CountField(
        "Minutes without a touch until a tablet locks", hint="Never while a batch is half entered."
    )
    shift_hours = CountField("Hours until everybody must give the PIN again", hint="As long as a shift.")
    shortest_pin = CountField(
        "Digits of a PIN, at least", hint="4 to 8. Of 4 digits, one guess in 10,000 is right; of 6, one in a million."
    )

    @classmethod
    def of(cls, rules: Access) -> RulesForm:
        """The form filled with the current rules."""
        return cls(
            is_in_use=YES if rules.is_in_use else NO,
            idle_minutes=str(rules.idle_minutes),
            shift_hours=str(rules.shift_hours),
            shortest_pin=str(rules.shortest_pin),
        )


class SecretForm(Form):
    """A new PIN or password for somebody."""

    person = PickField("For whom", first=TO_CHOOSE)
    secret = SecretField("New PIN or password")
    again = SecretField("Repeat it")

    @classmethod
    def of(cls, people: Sequence[Holder], typed: Any = None) -> SecretForm:
        """The form for one of these people."""
        form = cls(typed, prefix="secret-")
        form.person.offer((one.code, one.name) for one in people)
        return form

    @classmethod
    def of_first(cls, people: Sequence[Holder], typed: Any = None) -> SecretForm:
        """The form that makes one of these people the first supervisor."""
        form = cls.of(people, typed)
        form.person.label.text, form.secret.label.text = say("Who"), say("Password")
        return form


class TabletForm(Form):
    """The name of the requesting tablet."""

    name = NameField("Name of this tablet", hint="As written on its case, such as 'Arm 1'.")
