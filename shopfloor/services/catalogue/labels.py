"""Labels of taps, jobs and stations: what is printed, and what a scan or a typed code means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.labels import CODE, Label, Labelled, one_slip_away, plain, read_label
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import TapState
from shopfloor.services.record.codes import find_in, holds
from shopfloor.services.record.work import Work
from shopfloor.store import Job, Station, Tap, TapLife
from shopfloor.store.queries.stock import WITHDRAWN

MOST_LABELS = 300
"""Number of labels on a sheet; a crib with more narrows its selection."""

MOST_NEAR = 6
"""Things that are offered in place of a misread label."""

_TABLES: dict[Labelled, type[Tap] | type[Job] | type[Station]] = {
    Labelled.TAP: Tap,
    Labelled.JOB: Job,
    Labelled.STATION: Station,
}


@dataclass(frozen=True)
class Printed:
    """A label as it is printed: its code, and text that tells people what it belongs to."""

    label: Label
    lines: tuple[str, ...]


class Misread(InputError):
    """An ambiguous or unknown scan or typed code; a person chooses among `near`, what may have been meant."""

    def __init__(self, problems: Sequence[Problem], near: Sequence[Label]) -> None:
        self.near = tuple(near[:MOST_NEAR])
        super().__init__(problems)


def tap_labels(work: Work, code: str = "", tap_type: str = "", days: int | None = None) -> tuple[Printed, ...]:
    """Labels of taps that can still be used: those whose code holds `code`, of a type, received in the last days."""
    query = (
        select(Tap)
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(TapLife.is_present, TapLife.state.in_((TapState.UNUSED, TapState.IN_SERVICE)), ~WITHDRAWN)
        .order_by(Tap.code)
        .limit(MOST_LABELS)
    )
    if code:
        query = query.where(holds(Tap, code))
    if tap_type:
        query = query.where(Tap.tap_type.has(code=tap_type))
    if days is not None:
        query = query.where(Tap.received_at >= work.clock() - timedelta(days=days))
    with work.read() as session:
        return tuple(
            Printed(Label(Labelled.TAP, tap.code), (tap.tap_type.code,)) for tap in session.scalars(query).unique()
        )


def job_labels(work: Work) -> tuple[Printed, ...]:
    """Labels of the open jobs."""
    query = select(Job).where(Job.is_open).order_by(Job.code).limit(MOST_LABELS)
    with work.read() as session:
        return tuple(
            Printed(Label(Labelled.JOB, job.code), (job.part, f"{job.thread or ''} {job.material.name}".strip()))
            for job in session.scalars(query).unique()
        )


def station_labels(work: Work) -> tuple[Printed, ...]:
    """Labels of the stations."""
    with work.read() as session:
        rows = session.scalars(select(Station).order_by(Station.code).limit(MOST_LABELS))
        return tuple(Printed(Label(Labelled.STATION, row.code), (row.name,)) for row in rows)


def find_label(work: Work, text: str) -> Label:
    """The thing whose label was scanned or typed.

    Raises
    ------
    Misread    the check digits do not agree, nothing has such a label, or two things may be meant
    """
    with work.read() as session:
        labels = _labels(session)
    bare = [label for label in labels if plain(label.code) == plain(text)]
    try:
        read = read_label(text)
    except InputError as error:
        raise Misread(error.problems, [*one_slip_away(text, labels), *bare]) from None
    found = [label for label in labels if read.names(label)]
    if len(found) == 1 and not bare:
        return found[0]
    if found or bare:
        problem = Problem(
            CODE, phrase("{text} may mean more than one thing", text=shown(text)), "touch the one that is meant"
        )
        raise Misread([problem], [*found, *bare])
    kind = read.kind.label.lower()
    what = phrase("{text} was read correctly, but no {kind} of this shop has that label", text=shown(text), kind=kind)
    raise Misread(
        [Problem(CODE, what, phrase("scan a {kind} that is on record, or have it added first", kind=kind))], ()
    )


def tap_code(work: Work, text: str) -> str:
    """The code of the tap that was scanned or typed into a tap field; unchanged if it is not a tap's label."""
    with work.read() as session:
        if find_in(session, Tap, text) is not None:
            return text
    try:
        label = find_label(work, text)
    except Misread:
        return text
    return label.code if label.kind is Labelled.TAP else text


def label_of(work: Work, kind: str, code: str) -> Label:
    """The label of a thing by its kind's letter and its exact code.

    Raises
    ------
    InputError    the shop has no such thing
    """
    with work.read() as session:
        found = next((label for label in _labels(session) if (label.kind.value, label.code) == (kind, code)), None)
    if found is not None:
        return found
    raise InputError.of(
        CODE, phrase("{code} is not on record", code=shown(code)), "scan it again, or choose from the lists"
    )


def _labels(session: Session) -> list[Label]:
    return [Label(kind, code) for kind, table in _TABLES.items() for code in session.scalars(select(table.code))]
