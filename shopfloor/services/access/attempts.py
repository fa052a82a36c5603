"""Login attempts: each is recorded, and failed ones make whoever comes next wait.

Waits count by where attempts come from: guesses at one tablet make that tablet wait and no other, guesses from one
address that address, and neither shuts anybody out elsewhere. Many addresses that guess at one name make an address
wait once where that person never logged in; an enrolled tablet and a place where they did never do. No wait is for
ever.

An attempt is recorded as wrong before the secret is checked, and a right one adds a second row, as attempts are
append-only: so concurrent attempts all count. A name that nobody has is treated alike: it is stored as a fingerprint,
and checking it takes as long.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from threading import BoundedSemaphore
from typing import Any

from sqlalchemy import ColumnElement, and_, func, select
from sqlalchemy.orm import Session, aliased

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.passwords import LONGEST_WAIT, STRANGERS_COUNT, wait_after, wait_of_a_stranger
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Attempt
from shopfloor.services.access.hashing import fingerprint
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work
from shopfloor.store import Person, SignInAttempt, Tablet
from shopfloor.store.engine import hold_all

MOST_SHOWN = 40
_NOBODY = "? "
_SHOWN_OF_FINGERPRINT = 12
_ENDS_A_ROW = (Attempt.RIGHT, Attempt.RELEASED)
_NO_WAIT = timedelta(0)
_APART = timedelta(minutes=1)
"""How far the clocks of several servers may be apart."""

_LOOKED_AT_TOGETHER = 2
_PATIENCE_S = 0.5
_turns = BoundedSemaphore(_LOOKED_AT_TOGETHER)
"""Checking a secret is slow on purpose; somebody guessing must not be able to take up the whole processor."""


class TooSoon(InputError):
    """It is too soon to try again."""

    @classmethod
    def by(cls, wait: timedelta) -> TooSoon:
        """With the waiting time that is left."""
        seconds = ceil(wait.total_seconds())
        told = f"{seconds} s" if seconds < 100 else f"{ceil(seconds / 60)} min"
        remedy = phrase("wait {told}, or ask a supervisor to let you in", told=told)
        return cls([Problem("secret", "too many wrong attempts", remedy)])

    @classmethod
    def busy(cls) -> TooSoon:
        """Other attempts are being checked."""
        return cls([Problem("secret", "many people are logging in, and your attempt was not checked", "try again")])


@dataclass(frozen=True)
class Origin:
    """Where an attempt comes from: an enrolled tablet, or else a network address."""

    tablet: int | None = None
    address: str | None = None

    @property
    def stored(self) -> dict[str, Any]:
        """As columns of an attempt; for a tablet the address adds nothing."""
        return {"tablet_id": self.tablet, "address": self.address if self.tablet is None else None}

    def holds(self) -> ColumnElement[bool]:
        """The attempts that came from here."""
        return and_(*(getattr(SignInAttempt, name) == value for name, value in self.stored.items()))


@dataclass(frozen=True)
class Tried:
    """One attempt as a supervisor reads it; `who` None: a name that nobody has."""

    at: datetime
    who: str | None
    tablet: str | None
    address: str | None
    outcome: Attempt


@contextmanager
def in_turn() -> Iterator[None]:
    """Wait for a turn to check a secret.

    Raises
    ------
    TooSoon    the queue takes longer than anybody should have to wait
    """
    if not _turns.acquire(timeout=_PATIENCE_S):
        raise TooSoon.busy()
    try:
        yield
    finally:
        _turns.release()


def must_be_in_time(work: Work, code: str, place: Origin) -> None:
    """Refuse an attempt that comes too soon, at the cost of one query; only the first such refusal is recorded.

    Raises
    ------
    TooSoon    the place has to wait
    """
    with work.read() as session:
        key, now = _key(session, code), work.clock()
        wait = _wait(session, now, key, place)
        if not wait:
            return
        is_told = _is_told(session, now, key, place)
    if not is_told:
        with work.write() as session:
            session.add(SignInAttempt(at=now, code=key, outcome=Attempt.TOO_SOON, **place.stored))
    raise TooSoon.by(wait)


def begin(work: Work, code: str, place: Origin) -> int:
    """Record an attempt, as wrong until `mark_right` is called; returns its id.

    It is recorded before the secret is checked, so that simultaneous attempts all count.

    Raises
    ------
    TooSoon    the place has to wait; the secret must not be checked
    """
    with work.write() as session:
        hold_all(session, SignInAttempt)
        key, now = _key(session, code), work.clock()
        wait = _wait(session, now, key, place)
        if wait:
            raise TooSoon.by(wait)
        row = SignInAttempt(at=now, code=key, outcome=Attempt.WRONG, **place.stored)
        session.add(row)
        session.flush()
        return row.id


def mark_right(session: Session, work: Work, attempt: int) -> None:
    """The secret was right, which ends a run of wrong ones there."""
    wrong = session.get_one(SignInAttempt, attempt)
    where = {"code": wrong.code, "tablet_id": wrong.tablet_id, "address": wrong.address}
    session.add(SignInAttempt(at=work.clock(), outcome=Attempt.RIGHT, settles_id=attempt, **where))


def release(work: Work, code: str) -> None:
    """Let a person try again at once, wherever they are; others at the same place still have to wait.

    Raises
    ------
    InputError    nobody has this code
    """
    with work.write() as session:
        person = person_of(session, code)
        session.add(SignInAttempt(at=work.clock(), code=person.code, outcome=Attempt.RELEASED))


def release_tablet(work: Work, tablet: int) -> None:
    """Let everybody at a tablet try again at once.

    Raises
    ------
    InputError    there is no such tablet
    """
    with work.write() as session:
        tablet_row(session, tablet)
        session.add(SignInAttempt(at=work.clock(), code="", tablet_id=tablet, outcome=Attempt.RELEASED))


def tablet_row(session: Session, tablet: int) -> Tablet:
    """The tablet of this number; raises InputError where there is none."""
    row = session.get(Tablet, tablet)
    if row is None:
        raise InputError.of("tablet", "there is no such tablet", "choose one that is listed")
    return row


def wait_at(session: Session, work: Work, tablet: int) -> timedelta:
    """How long everybody at this tablet has to wait now."""
    return _after_row(session, work.clock(), Origin(tablet).holds())


def codes_that_wait(session: Session, now: datetime) -> set[str]:
    """The codes with so many recent wrong guesses that somebody has to wait somewhere."""
    lately = select(SignInAttempt.code, SignInAttempt.tablet_id, SignInAttempt.address).where(
        SignInAttempt.outcome == Attempt.WRONG, SignInAttempt.at > now - max(LONGEST_WAIT, STRANGERS_COUNT)
    )
    return {
        code
        for code, tablet, address in session.execute(lately.distinct())
        if _of_person_at(session, now, code, Origin(tablet, address)) or _of_strangers(session, now, code)
    }


def last_attempts(work: Work) -> Sequence[Tried]:
    """The newest attempts, newest first."""
    later = aliased(SignInAttempt)
    query = (
        select(SignInAttempt, Person.name, Tablet.name)
        .outerjoin(Person, Person.code == SignInAttempt.code)
        .outerjoin(Tablet, Tablet.id == SignInAttempt.tablet_id)
        .where(~select(later.id).where(later.settles_id == SignInAttempt.id, later.id > SignInAttempt.id).exists())
        .order_by(SignInAttempt.id.desc())
        .limit(MOST_SHOWN)
    )
    with work.read() as session:
        return [Tried(row.at, who, tablet, row.address, row.outcome) for row, who, tablet in session.execute(query)]


def _key(session: Session, code: str) -> str:
    """What an attempt is filed under."""
    person = find_in(session, Person, code)
    # Somebody may have typed a password into the name field: it must not be stored.
    return person.code if person else _NOBODY + fingerprint(code.casefold())[:_SHOWN_OF_FINGERPRINT]


def _wait(session: Session, now: datetime, key: str, place: Origin) -> timedelta:
    """How long an attempt on this name from this place has to wait."""
    here = _after_row(session, now, place.holds(), code=key)
    return max(here, _of_person_at(session, now, key, place), _of_stranger_at(session, now, key, place))


def _of_person_at(session: Session, now: datetime, key: str, place: Origin) -> timedelta:
    """The wait left by wrong attempts on one name at one place."""
    return _after_row(session, now, SignInAttempt.code == key, place.holds(), code=key)


def _after_row(session: Session, now: datetime, *which: ColumnElement[bool], code: str | None = None) -> timedelta:
    """The wait left by wrong attempts since the last right one, or since a supervisor let the person in."""
    since = max(_end_of_row(session, *which), _released(session, code))
    wrong = select(func.count(), func.max(SignInAttempt.id)).where(
        *which, SignInAttempt.outcome == Attempt.WRONG, SignInAttempt.id > since
    )
    count, last = session.execute(wrong).one()
    if not count:
        return _NO_WAIT
    return _left(session.get_one(SignInAttempt, last).at, wait_after(count), now)


def _left(since: datetime, wait: timedelta, now: datetime) -> timedelta:
    """What is left of a wait; of one that began long after now, by a clock that has been set back, nothing."""
    return _NO_WAIT if since > now + _APART else min(max(since + wait - now, _NO_WAIT), wait)


def _end_of_row(session: Session, *which: ColumnElement[bool]) -> int:
    """The last successful attempt; those made while it was being checked count as later ones."""
    ended = func.max(func.coalesce(SignInAttempt.settles_id, SignInAttempt.id))
    return session.scalar(select(ended).where(*which, SignInAttempt.outcome.in_(_ENDS_A_ROW))) or 0


def _released(session: Session, code: str | None) -> int:
    """When a supervisor last let this person in, which applies everywhere."""
    if code is None:
        return 0
    released = select(func.max(SignInAttempt.id)).where(
        SignInAttempt.code == code, SignInAttempt.outcome == Attempt.RELEASED
    )
    return session.scalar(released) or 0


def _of_stranger_at(session: Session, now: datetime, key: str, place: Origin) -> timedelta:
    """What guesses from many addresses leave to wait where this person never logged in; served once, since the first
    attempt there.
    """
    wait = _NO_WAIT if place.tablet is not None else _of_strangers(session, now, key)
    if not wait:
        return _NO_WAIT
    here = (SignInAttempt.code == key, place.holds())
    if session.scalar(select(SignInAttempt.id).where(*here, SignInAttempt.outcome == Attempt.RIGHT).limit(1)):
        return _NO_WAIT
    last = session.scalar(select(func.max(SignInAttempt.id)).where(*here, SignInAttempt.outcome == Attempt.WRONG)) or 0
    asked = session.scalar(select(func.min(SignInAttempt.at)).where(*here, SignInAttempt.id >= last))
    return _left(asked or now, wait, now)


def _of_strangers(session: Session, now: datetime, key: str) -> timedelta:
    """How long a place waits at which this person never logged in."""
    settled = select(SignInAttempt.settles_id).where(SignInAttempt.code == key, SignInAttempt.settles_id.is_not(None))
    wrong = select(func.count()).where(
        SignInAttempt.code == key,
        SignInAttempt.tablet_id.is_(None),
        SignInAttempt.outcome == Attempt.WRONG,
        SignInAttempt.at > now - STRANGERS_COUNT,
        SignInAttempt.id > _released(session, key),
        SignInAttempt.id.not_in(settled),
    )
    return wait_of_a_stranger(session.scalar(wrong) or 0)


def _is_told(session: Session, now: datetime, key: str, place: Origin) -> bool:
    """Whether an attempt that came too soon has been recorded since the last one here.

    If the whole place has to wait, one record covers all names, so that nobody can fill the table by trying.
    """
    newest = select(SignInAttempt.outcome).where(place.holds()).order_by(SignInAttempt.id.desc()).limit(1)
    if not _after_row(session, now, place.holds(), code=key):
        newest = newest.where(SignInAttempt.code == key)
    return session.scalar(newest) is Attempt.TOO_SOON
