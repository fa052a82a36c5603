"""Forms that are sent once and signed: who, and for a change also why."""

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
    """A form with its own id, so that what is sent twice is booked once."""

    called: ClassVar[Mapping[str, str]] = {}
    """The form's names for fields that services call something else."""

    id = HiddenField()

    def __init__(self, typed: Any = None, **values: Any) -> None:
        super().__init__(typed, **values)
        if not self.id.data:
            self.id.data = str(uuid.uuid4())

    def raw(self) -> dict[str, str]:
        """What was typed, by field."""
        return raw(self)

    def refuse(self, error: InputError) -> Sequence[Complaint]:
        """Attach each problem found by a service to its field; returns the lines of the summary."""
        return explain(self, error, called=self.called)


class SignedForm(SentOnceForm):
    """A form that asks who fills it in; the last person is offered."""

    last: ClassVar[tuple[str, ...]] = ("person",)
    """The fields that come last."""

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
    """A form that changes an entry, and asks why; on its own it cancels one."""

    last = ("person", "reason")

    person = PickField("Who changes it", first=TO_CHOOSE)
    reason = NoteField("Why?", hint="A few words. The old entry stays readable.")
