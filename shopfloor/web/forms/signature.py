"""Forms that are sent once and signed: who, and where something is changed, why."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from flask import session
from wtforms import Field

from shopfloor.core.errors import InputError
from shopfloor.services.ledger.movements import people
from shopfloor.web.context import work
from shopfloor.web.forms.fields import TO_CHOOSE, Complaint, Form, HiddenField, NoteField, PickField, explain, raw
from shopfloor.web.security import current_person

_REMEMBERED = "crib_person"


class SentOnceForm(Form):
    """A form with an id of its own, so that what is sent twice is booked once."""

    called: ClassVar[Mapping[str, str]] = {}
    """The form's names of fields that services call otherwise."""

    id = HiddenField()

    def __init__(self, typed: Any = None, **values: Any) -> None:
        super().__init__(typed, **values)
        if not self.id.data:
            self.id.data = str(uuid.uuid4())

    def raw(self) -> dict[str, str]:
        """What was typed, by field."""
        return raw(self)

    def refuse(self, error: InputError) -> Sequence[Complaint]:
        """Put each problem that a service found to its field; returns the lines of the summary."""
        return explain(self, error, called=self.called)


class SignedForm(SentOnceForm):
    """A form that asks who fills it in; the last one is offered."""

    last: ClassVar[tuple[str, ...]] = ("person",)
    """The fields that stand at the end."""

    person = PickField("Who books this", first=TO_CHOOSE)

    def __init__(self, typed: Any = None, **values: Any) -> None:
        super().__init__(typed, **values)
        found = current_person.who() if current_person.rules().is_in_use else None
        if found is not None:
            # Nobody signs for somebody else.
            self.person.offer([(found.code, found.name)])
            self.person.data = found.code
            return
        self.person.offer(people(work()))
        if not typed:
            self.person.data = session.get(_REMEMBERED, "")

    def __iter__(self) -> Iterator[Field]:
        """The fields, those of `last` at the end."""
        return iter(
            [*(self[name] for name in self._fields if name not in self.last), *map(self.__getitem__, self.last)]
        )

    def remember(self) -> None:
        """Offer the same person next time."""
        session[_REMEMBERED] = self.person.data


class ReasonedForm(SignedForm):
    """A form that changes what was entered, and asks why; by itself it cancels."""

    last = ("person", "reason")

    person = PickField("Who changes it", first=TO_CHOOSE)
    reason = NoteField("Why?", hint="A few words. The old entry stays readable.")
