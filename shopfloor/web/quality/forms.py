"""The quality lead's forms."""

from __future__ import annotations

import uuid
from typing import Any

from shopfloor.core.vocabulary import Cause, PartFate
from shopfloor.web.forms.fields import TO_CHOOSE, HiddenField, NoteField, PickField
from shopfloor.web.forms.signature import ReasonedForm, SignedForm


class SeenForm(ReasonedForm):
    """A form that knows which incident was read, so that nobody overwrites what they did not see."""

    incident = HiddenField()


class _OfGauge:
    """Why a tap failed the gauge."""

    incident = HiddenField()
    cause = PickField("Likely cause", Cause, first=TO_CHOOSE)
    account = NoteField("What happened, and what became of the parts")


class FirstGaugeForm(_OfGauge, SignedForm):
    """The first report."""


class AgainGaugeForm(_OfGauge, ReasonedForm):
    """A later report: the reason for the change is asked, too."""


class IncidentForm(SeenForm):
    """What is known of a break."""

    cause = PickField("Likely cause", Cause, first=TO_CHOOSE)
    part_fate = PickField("What became of the part", PartFate)
    account = NoteField("What happened")


def photograph_form(photograph: uuid.UUID, typed: Any = None) -> ReasonedForm:
    """The form that cancels a photograph; a page has one for each, and ids must differ."""
    return ReasonedForm(typed, prefix=f"photograph-{photograph}-")
