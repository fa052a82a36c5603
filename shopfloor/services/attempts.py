"""Attempts to log in: each is recorded, and after wrong ones nobody may try again for a while.

A wait is for the person and for the tablet, never for ever: nobody can lock a colleague out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import phrase
from shopfloor.core.pins import wait_after
from shopfloor.core.vocabulary import Attempt
from shopfloor.services.codes import find_in
from shopfloor.services.secrets_kept import fingerprint
from shopfloor.services.standing import person_of
from shopfloor.services.work import Work
from shopfloor.store import Person, SignInAttempt, Tablet
from shopfloor.store.engine import hold

MOST_SHOWN = 40
_NOBODY = "? "
_SHOWN_OF_FINGERPRINT = 12
_ENDS_A_ROW = (Attempt.RIGHT, Attempt.RELEASED)


class TooSoon(InputError):
    """Nobody may try again yet."""

    @classmethod
    def by(cls, wait: timedelta) -> TooSoon:
        """So long is left to wait."""
        seconds = ceil(wait.total_seconds())
        told = f"{seconds} s" if seconds < 100 else f"{ceil(seconds / 60)} min"
        return cls(
            [
                Problem(
                    "secret",
                    "too many wrong attempts",
                    phrase("wait {told}, or ask a supervisor to let you in", told=told),
                )
            ]
        )


@dataclass(frozen=True)
class Tried:
    """One attempt as a supervisor reads it; `who` None: a name that nobody has."""

    at: datetime
    who: str | None
    tablet: str | None
    outcome: Attempt


def begin(work: Work, code: str, tablet: int | None) -> int:
    """Record an attempt, as wrong until `mark_right` is called; returns its id.

    It is on record before the secret is looked at, so that many attempts at once count as many.

    Raises
    ------
    TooSoon    the person or the tablet has to wait; the secret must not be looked at
    """
    with work.write() as session:
        person = find_in(session, Person, code)
        key = person.code if person else _of_nobody(code)
        hold(session, Tablet, {tablet} if tablet else set())
        hold(session, Person, {person.id} if person else set())
        wait = max(_wait(session, work, SignInAttempt.code, key), _wait(session, work, SignInAttempt.tablet_id, tablet))
        outcome = Attempt.TOO_SOON if wait else Attempt.WRONG
        row = SignInAttempt(at=work.clock(), code=key, tablet_id=tablet, outcome=outcome)
        session.add(row)
        session.flush()
        attempt = row.id
    if wait:
        raise TooSoon.by(wait)
    return attempt


def mark_right(session: Session, attempt: int) -> None:
    """The secret was right, which ends a row of wrong ones."""
    session.get_one(SignInAttempt, attempt).outcome = Attempt.RIGHT


def release(work: Work, code: str) -> None:
    """Let a person try again at once.

    Raises
    ------
    InputError    nobody has this code
    """
    with work.write() as session:
        person = person_of(session, code)
        row = SignInAttempt(at=work.clock(), code=person.code, tablet_id=None, outcome=Attempt.RELEASED)
        session.add(row)


def release_tablet(work: Work, tablet: int) -> None:
    """Let everybody at a tablet try again at once."""
    with work.write() as session:
        session.add(SignInAttempt(at=work.clock(), code="", tablet_id=tablet, outcome=Attempt.RELEASED))


def wait_of(session: Session, work: Work, code: str) -> timedelta:
    """How long this person has to wait now."""
    return _wait(session, work, SignInAttempt.code, code)


def wait_at(session: Session, work: Work, tablet: int) -> timedelta:
    """How long everybody at this tablet has to wait now."""
    return _wait(session, work, SignInAttempt.tablet_id, tablet)


def last_attempts(work: Work) -> Sequence[Tried]:
    """The newest attempts, newest first."""
    query = (
        select(SignInAttempt, Person.name, Tablet.name)
        .outerjoin(Person, Person.code == SignInAttempt.code)
        .outerjoin(Tablet, Tablet.id == SignInAttempt.tablet_id)
        .order_by(SignInAttempt.id.desc())
        .limit(MOST_SHOWN)
    )
    with work.read() as session:
        return [Tried(row.at, who, tablet, row.outcome) for row, who, tablet in session.execute(query)]


def _wait(session: Session, work: Work, column: InstrumentedAttribute[Any], value: object) -> timedelta:
    """What is left of the wait after the wrong attempts since the last right one."""
    if value is None:
        return timedelta(0)
    ended = select(func.max(SignInAttempt.id)).where(column == value, SignInAttempt.outcome.in_(_ENDS_A_ROW))
    since = session.scalar(ended) or 0
    wrong = select(func.count(), func.max(SignInAttempt.at)).where(
        column == value, SignInAttempt.outcome == Attempt.WRONG, SignInAttempt.id > since
    )
    count, last = session.execute(wrong).one()
    if not count:
        return timedelta(0)
    return max(last + wait_after(count) - work.clock(), timedelta(0))


def _of_nobody(code: str) -> str:
    # Somebody may have typed the password where the name belongs: it must not stand here.
    return _NOBODY + fingerprint(code.casefold())[:_SHOWN_OF_FINGERPRINT]
