"""Log in, be recognised, log out. A log-in vouches for one person at one tablet for a limited time.

An entry from a tablet is stored if its person gave the PIN there, in a log-in that covers the time of the work or was
made later (`vouches`); `confirm` accepts a PIN without changing who is logged in. Until then the entry waits on the
tablet, and other people's entries for other taps go ahead of it. The time of the work is what the tablet says: whoever
forges requests on an enrolled tablet can date an entry into a colleague's log-in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.input.access_entries import Access
from shopfloor.core.vocabulary import Role
from shopfloor.services.access.attempts import Origin, begin, in_turn, mark_right, must_be_in_time
from shopfloor.services.access.hashing import fingerprint, fits, hashed, is_outdated, new_token
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.store import Person, PersonSecret, SignIn, Tablet
from shopfloor.store.engine import hold

_SEEN_AGAIN = timedelta(seconds=20)
"""A log-in's last activity is not stored more often than this."""


@dataclass(frozen=True)
class Who:
    """Somebody who is logged in. `roles` beyond an operator's need a password; a PIN grants none."""

    sign_in: int
    code: str
    name: str
    roles: frozenset[Role]
    tablet: int | None

    @property
    def is_supervisor(self) -> bool:
        """Whether this person may let people and tablets in."""
        return Role.ADMIN in self.roles


def sign_in(work: Work, code: str, secret: str, tablet: int | None, address: str | None = None) -> str:
    """Log a person in; whoever was logged in at the tablet is logged out. Returns the token for the browser.

    Without an enrolled tablet a password is asked for: a PIN is worth nothing there, and attempts are counted by the
    network address.

    Raises
    ------
    TooSoon       after wrong attempts there is a wait
    InputError    the secret is not this person's, or there is no such person: the answer is the same
    """
    person, is_password = _proven(work, code, secret, Origin(tablet, address))
    token, now = new_token(), work.clock()
    with work.write() as session:
        hold(session, Tablet, {tablet} if tablet else set())
        if tablet is not None:
            _end_all(session, now, SignIn.tablet_id == tablet)
        times = {"started_at": now, "seen_at": now}
        kept = fingerprint(token)
        session.add(SignIn(token_hash=kept, person_id=person, tablet_id=tablet, is_password=is_password, **times))
    return token


def confirm(work: Work, code: str, secret: str, tablet: int) -> None:
    """Accept a person's PIN for the entries waiting on this tablet, without changing who is logged in.

    Raises
    ------
    TooSoon, InputError    as `sign_in` raises them
    """
    person, is_password = _proven(work, code, secret, Origin(tablet))
    now = work.clock()
    with work.write() as session:
        times = {"started_at": now, "seen_at": now, "ended_at": now}
        session.add(SignIn(person_id=person, tablet_id=tablet, is_password=is_password, **times))


def known_again(work: Work, rules: Access, token: str, tablet: int | None) -> Who | None:
    """Whose log-in the token is; None if it has ended or belongs to another tablet."""
    query = (
        select(SignIn, Person)
        .join(Person, Person.id == SignIn.person_id)
        .where(SignIn.token_hash == fingerprint(token), SignIn.ended_at.is_(None))
    )
    with work.read() as session:
        found = session.execute(query).first()
        if found is None:
            return None
        row, person = found
        is_elsewhere = row.tablet_id is not None and row.tablet_id != tablet
        if is_elsewhere or work.clock() > _end(row, rules):
            return None
        roles = frozenset(role.role for role in person.roles) if row.is_password else frozenset()
        return Who(row.id, person.code, person.name, roles, row.tablet_id)


def touch(work: Work, sign_in_id: int) -> None:
    """Record that the person is still active."""
    now = work.clock()
    with work.read() as session:
        if now - session.get_one(SignIn, sign_in_id).seen_at < _SEEN_AGAIN:
            return
    with work.write() as session:
        session.get_one(SignIn, sign_in_id).seen_at = now


def sign_out(work: Work, sign_in_id: int) -> None:
    """End the log-in."""
    with work.write() as session:
        _end_all(session, work.clock(), SignIn.id == sign_in_id)


def end_log_ins(session: Session, now: datetime, *, person: int | None = None, tablet: int | None = None) -> None:
    """End all log-ins of a person, or of everybody at a tablet."""
    _end_all(session, now, SignIn.person_id == person if person is not None else SignIn.tablet_id == tablet)


def move_to(work: Work, sign_in_id: int, tablet: int) -> None:
    """Attach the log-in to the tablet that has just been enrolled."""
    with work.write() as session:
        session.get_one(SignIn, sign_in_id).tablet_id = tablet


def vouches(work: Work, rules: Access, person: str, tablet: int, at: datetime) -> bool:
    """Whether a log-in of this person at this tablet covers that time, or was made later."""
    query = (
        select(SignIn)
        .join(Person, Person.id == SignIn.person_id)
        .where(Person.code == person, SignIn.tablet_id == tablet, SignIn.seen_at >= at - rules.idle)
        .where(or_(SignIn.ended_at.is_(None), SignIn.ended_at >= at))
    )
    with work.read() as session:
        return any(at <= (row.ended_at or _end(row, rules)) for row in session.scalars(query))


def person_of_run(work: Work, code: str) -> str:
    """The code as it stands in the record, ignoring case; unchanged if nobody has it."""
    with work.read() as session:
        found = find_in(session, Person, code)
        return found.code if found else code


def _proven(work: Work, code: str, secret: str, place: Origin) -> tuple[int, bool]:
    """Whose secret it is, and whether it is a password."""
    must_be_in_time(work, code, place)
    with in_turn():
        attempt = begin(work, code, place)
        with work.read() as session:
            person = find_in(session, Person, code)
            kept = session.get(PersonSecret, person.id) if person else None
            may = kept is not None and (place.tablet is not None or kept.is_password)
            known = kept.secret_hash if kept is not None and may else None
        does_fit = fits(known, secret)
    if not does_fit or person is None or kept is None or known is None:
        raise InputError.of("secret", "it does not fit", "try again; a supervisor can give you a new one")
    with work.write() as session:
        mark_right(session, work, attempt)
        if is_outdated(known):
            session.get_one(PersonSecret, person.id).secret_hash = hashed(secret)
    return person.id, kept.is_password


def _end(row: SignIn, rules: Access) -> datetime:
    """When the log-in expires."""
    return min(row.seen_at + rules.idle, row.started_at + rules.shift)


def _end_all(session: Session, now: datetime, which: object) -> None:
    for row in session.scalars(select(SignIn).where(which, SignIn.ended_at.is_(None))):  # type: ignore[arg-type]
        row.ended_at = now
