"""New tap types, so that a crib can start from scratch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.catalogue_entries import TapTypeEntry
from shopfloor.core.input.catalogue_reading import EntryContext, read_new
from shopfloor.core.input.codes import written_code
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.services.record.codes import fill_in, find_in, problems_of_new
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Tap, TapType


@tried_again
def add_tap_type(work: Work, raw: Mapping[str, object], by: str | None = None) -> str:
    """Add a tap type from what a person typed, or complete one that an import made; returns its code.

    Parameters
    ----------
    raw : mapping    code and thread; optional style, chamfer, substrate, coating, supplier, unit_cost, lead_time_days,
                     bin, which may differ from the one on record

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    reading = read_new(TapTypeEntry, raw, EntryContext())
    code, entry = reading.entry
    with work.write(by) as session:
        kind = find_in(session, TapType, code)
        reading.accepted(problems_of_new(session, TapType, code, "code") if code and kind is None else ())
        if kind is None:
            kind = TapType(code=written_code(code), **vars(entry))
            session.add(kind)
        else:
            _complete(session, kind, entry)
        return kind.code


def _complete(session: Session, kind: TapType, entry: TapTypeEntry) -> None:
    problems: list[Problem] = []
    # The bin may change; what the taps are does not.
    moved_to = entry.bin not in (None, kind.bin)
    what_it_is = {name: value for name, value in vars(entry).items() if name != "bin"}
    if not fill_in(kind, what_it_is, problems) and not moved_to:
        raise InputError.of(
            "code",
            phrase("{code} is taken", code=shown(kind.code)),
            "give a code that no tap type has, or change that tap type",
        )
    if problems:
        raise InputError(problems)
    if moved_to:
        kind.bin = entry.bin
    session.flush()
    thread_changed(session, kind.id)


def thread_changed(session: Session, kind: int) -> None:
    """The thread tells the diameter, and with it the speed band of every hole that such taps have made."""
    refresh(session, list(session.scalars(select(Tap.id).where(Tap.tap_type_id == kind))))


@dataclass(frozen=True)
class ListedType:
    """One line of the list of tap types."""

    code: str
    thread: str | None
    supplier: str | None
    unit_cost: Decimal | None
    lead_time_days: int | None
    bin: str | None


def tap_types(work: Work) -> list[ListedType]:
    """Every tap type, by code."""
    kind = TapType
    columns = (kind.code, kind.thread, kind.supplier, kind.unit_cost, kind.lead_time_days, kind.bin)
    with work.read() as session:
        return [ListedType(*row) for row in session.execute(select(*columns).order_by(kind.code))]


def tap_type_codes(work: Work) -> list[str]:
    """Every tap type's code, in order."""
    with work.read() as session:
        return list(session.scalars(select(TapType.code).order_by(TapType.code)))
