"""Tablets that a supervisor enrolled; each has a long random token, which can be revoked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select

from shopfloor.core.errors import InputError
from shopfloor.core.input.access_entries import read_tablet_name
from shopfloor.core.phrases import phrase
from shopfloor.services.access.attempts import tablet_row, wait_at
from shopfloor.services.access.hashing import fingerprint, new_token
from shopfloor.services.access.log_in import end_log_ins
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work
from shopfloor.store import Person, Tablet
from shopfloor.store.engine import hold_all

_USED_AGAIN = timedelta(minutes=5)
"""A tablet's last use is not stored more often than this."""


@dataclass(frozen=True)
class EnrolledTablet:
    """A tablet as a supervisor reads it. `revoked_at` None: it may still be used."""

    id: int
    name: str
    enrolled_at: datetime
    enrolled_by: str | None
    used_at: datetime
    revoked_at: datetime | None
    has_to_wait: bool


@dataclass(frozen=True)
class TabletHere:
    """The enrolled tablet that sent the request."""

    id: int
    name: str


def enrol(work: Work, name: str, by: str) -> tuple[int, str]:
    """Enrol a tablet under a name; returns its id and the token for its browser, which is stored nowhere else.

    Raises
    ------
    InputError    no name, or one that another tablet in use has
    """
    wanted = read_tablet_name({"name": name})
    token, now = new_token(), work.clock()
    with work.write() as session:
        hold_all(session, Tablet)
        if session.scalar(select(Tablet.id).where(Tablet.name == wanted, Tablet.revoked_at.is_(None))) is not None:
            raise InputError.of(
                "name", phrase("'{wanted}' is enrolled already", wanted=wanted), "give this tablet another name"
            )
        tablet = Tablet(
            name=wanted,
            token_hash=fingerprint(token),
            enrolled_at=now,
            used_at=now,
            enrolled_by_id=person_of(session, by).id,
        )
        session.add(tablet)
        session.flush()
        return tablet.id, token


def tablet_of(work: Work, token: str) -> TabletHere | None:
    """The enrolled tablet that has this token."""
    query = select(Tablet).where(Tablet.token_hash == fingerprint(token), Tablet.revoked_at.is_(None))
    with work.read() as session:
        row = session.scalar(query)
        if row is None:
            return None
        here, used_at = TabletHere(row.id, row.name), row.used_at
    if work.clock() - used_at > _USED_AGAIN:
        with work.write() as session:
            session.get_one(Tablet, here.id).used_at = work.clock()
    return here


def tablets(work: Work) -> Sequence[EnrolledTablet]:
    """Every tablet, those in use first, by name."""
    query = select(Tablet, Person.name).outerjoin(Person, Person.id == Tablet.enrolled_by_id)
    with work.read() as session:
        found = [
            EnrolledTablet(
                row.id,
                row.name,
                row.enrolled_at,
                by,
                row.used_at,
                row.revoked_at,
                has_to_wait=bool(wait_at(session, work, row.id)),
            )
            for row, by in session.execute(query)
        ]
    return sorted(found, key=lambda one: (one.revoked_at is not None, one.name))


def revoke(work: Work, tablet: int) -> None:
    """Revoke a tablet's token and end its log-ins; entries waiting on it stay there.

    Raises
    ------
    InputError    there is no such tablet
    """
    with work.write() as session:
        row = tablet_row(session, tablet)
        row.revoked_at = row.revoked_at or work.clock()
        end_log_ins(session, work.clock(), tablet=row.id)
