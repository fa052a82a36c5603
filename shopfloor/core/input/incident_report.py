"""What people report about an incident: a tap that broke, or one that failed the gauge."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_NOTE
from shopfloor.core.input.signature import NO_ID, Signed, first_signature, signature
from shopfloor.core.vocabulary import Cause, PartFate


@dataclass(frozen=True)
class IncidentCorrection:
    """The revised incident, under a new id; `seen` is the version that was read (None: there was none)."""

    id: uuid.UUID
    seen: uuid.UUID | None
    cause: Cause
    account: str | None
    fate: PartFate | None


@dataclass(frozen=True)
class CheckReport:
    """The incident of a failed check, revised under a new id; `seen` is the version that was read, if there was one."""

    id: uuid.UUID
    seen: uuid.UUID | None
    cause: Cause
    account: str | None


def read_incident(raw: Mapping[str, object]) -> tuple[IncidentCorrection, Signed]:
    """What is known of a break: id, incident (the version read), cause, part_fate, account, person, reason.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, seen = reader.identity("id", required=True), reader.identity("incident")
    cause = reader.word("cause", Cause, required=True)
    fate = reader.word("part_fate", PartFate)
    account, signed = reader.text("account", longest=LONGEST_NOTE), signature(reader)
    reader.finish()
    return IncidentCorrection(id_ or NO_ID, seen, cause or Cause.NOT_KNOWN, account, fate), signed


def read_check_report(raw: Mapping[str, object]) -> tuple[CheckReport, Signed]:
    """What is known of a failed check: id, incident (the version read), cause, account, person.

    A 'reason' is asked only where there was a version before.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    id_, seen = reader.identity("id", required=True), reader.identity("incident")
    cause = reader.word("cause", Cause, required=True)
    account = reader.text("account", longest=LONGEST_NOTE)
    signed = signature(reader) if seen else first_signature(reader)
    reader.finish()
    return CheckReport(id_ or NO_ID, seen, cause or Cause.NOT_KNOWN, account), signed


def read_seen(raw: Mapping[str, object]) -> tuple[uuid.UUID | None, Signed]:
    """Which version of an incident is withdrawn ('incident'), by whom and why.

    Raises
    ------
    InputError    every problem found
    """
    reader = Reader(raw)
    seen, signed = reader.identity("incident"), signature(reader)
    reader.finish()
    return seen, signed
