"""The quality lead's forms."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_NOTE
from shopfloor.core.vocabulary import Cause, PartFate
from shopfloor.services.quality.failed_checks import CheckReport
from shopfloor.services.quality.incidents import IncidentCorrection
from shopfloor.web.forms.fields import TO_CHOOSE, HiddenField, NoteField, PickField
from shopfloor.web.forms.signature import ReasonedForm, Signed, SignedForm, first_signature, signature


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


def read_incident(raw: Mapping[str, object]) -> tuple[IncidentCorrection, Signed]:
    """What is known of a break; raises InputError with every problem."""
    reader = Reader(raw)
    id_, seen = reader.identity("id", required=True), reader.identity("incident")
    cause = reader.word("cause", Cause, required=True)
    fate = reader.word("part_fate", PartFate)
    account, signed = reader.text("account", longest=LONGEST_NOTE), signature(reader)
    reader.finish()
    return IncidentCorrection(id_ or uuid.UUID(int=0), seen, cause or Cause.NOT_KNOWN, account, fate), signed


def read_check_report(raw: Mapping[str, object]) -> tuple[CheckReport, Signed]:
    """What is known of a failed check; raises InputError with every problem."""
    reader = Reader(raw)
    id_, seen = reader.identity("id", required=True), reader.identity("incident")
    cause = reader.word("cause", Cause, required=True)
    account = reader.text("account", longest=LONGEST_NOTE)
    signed = signature(reader) if seen else first_signature(reader)
    reader.finish()
    return CheckReport(id_ or uuid.UUID(int=0), seen, cause or Cause.NOT_KNOWN, account), signed


def read_seen(raw: Mapping[str, object]) -> tuple[uuid.UUID | None, Signed]:
    """Which incident is cancelled, by whom and why; raises InputError with every problem."""
    reader = Reader(raw)
    seen, signed = reader.identity("incident"), signature(reader)
    reader.finish()
    return seen, signed
