"""Gauge checks of a tap: recorded, and listed with corrected and cancelled ones."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.ledger.taps import tap_and_person
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.revisions import STANDS, Change, Standing, fates
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import GaugeCheck, Person


@dataclass(frozen=True)
class CheckOfTap:
    """One gauge check of the tap; `change` says what became of it if it no longer counts."""

    id: uuid.UUID
    checked_at: datetime
    result: GaugeResult
    person: str | None
    note: str | None
    standing: Standing
    change: Change | None


def checks_of(session: Session, tap_id: int) -> list[CheckOfTap]:
    """Every gauge check of one tap, newest first, including those that no longer count."""
    query = (
        select(GaugeCheck.id, GaugeCheck.checked_at, GaugeCheck.result, Person.name, GaugeCheck.note)
        .outerjoin(Person, Person.id == GaugeCheck.person_id)
        .where(GaugeCheck.tap_id == tap_id)
        .order_by(GaugeCheck.checked_at.desc(), GaugeCheck.recorded_at.desc())
    )
    rows = session.execute(query).all()
    ended = fates(session, GaugeCheck, [row.id for row in rows])
    return [CheckOfTap(*row, *ended.get(row.id, STANDS)) for row in rows]


@tried_again
def record_gauge_check(
    work: Work, check_id: uuid.UUID, tap_code: str, result: GaugeResult, by: str, *, note: str | None = None
) -> None:
    """Store a GO/NO-GO check of the thread that a tap cuts; the same check sent twice is stored once.

    Raises
    ------
    InputError    unknown codes
    """
    with work.write() as session:
        if session.get(GaugeCheck, check_id) is not None:
            return
        tap, person = tap_and_person(session, tap_code, by)
        now = work.clock()
        session.add(
            GaugeCheck(
                id=check_id,
                checked_at=now,
                recorded_at=now,
                person_id=person.id,
                recorded_by_id=person.id,
                tap_id=tap.id,
                result=result,
                note=note,
            )
        )
        refresh(session, {tap.id})
