"""The lease of whoever works out estimates: one row, taken over once it has run out."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from shopfloor.store import EstimatorLease

_ONE = 1


class Holding(NamedTuple):
    """Who works out estimates, and until when nobody else does."""

    holder: str
    until: datetime


def holding(session: Session) -> Holding | None:
    """Who does now; None where nobody ever did."""
    row = session.execute(select(EstimatorLease.holder, EstimatorLease.until)).first()
    return None if row is None else Holding(*row)


def take_lease(session: Session, holder: str, now: datetime, until: datetime) -> bool:
    """Take the lease, or renew one's own; False while somebody else holds it."""
    given = {"holder": holder, "until": until}
    is_free = (EstimatorLease.holder == holder) | (EstimatorLease.until <= now)
    taken = session.execute(update(EstimatorLease).where(EstimatorLease.id == _ONE, is_free).values(given))
    if taken.rowcount:  # type: ignore[attr-defined] # of an UPDATE it is there
        return True
    if holding(session) is not None:
        return False
    session.execute(insert(EstimatorLease), [{"id": _ONE, **given}])
    return True


def give_back_lease(session: Session, holder: str) -> None:
    """Let somebody else take it at once."""
    session.execute(delete(EstimatorLease).where(EstimatorLease.holder == holder))
