"""PINs and passwords: who has one, and setting them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError, Problem
from shopfloor.core.input.access_entries import read_new_secret
from shopfloor.core.input.passwords import problems_of_password, problems_of_pin
from shopfloor.core.vocabulary import Role
from shopfloor.services.access.attempts import codes_that_wait
from shopfloor.services.access.hashing import hashed
from shopfloor.services.access.log_in import end_log_ins
from shopfloor.services.access.rules import access
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work
from shopfloor.store import Person, PersonRole, PersonSecret
from shopfloor.store.engine import hold_all


@dataclass(frozen=True)
class Holder:
    """A person, and what they log in with. `has_password` None: they have neither PIN nor password yet."""

    code: str
    name: str
    roles: tuple[Role, ...]
    has_password: bool | None
    has_to_wait: bool

    @property
    def needs_password(self) -> bool:
        """Whether a PIN is not enough."""
        return needs_password(self.roles)


def needs_password(roles: Collection[Role]) -> bool:
    """Anybody with more rights than an operator needs a password of at least 8 characters."""
    return any(role is not Role.OPERATOR for role in roles)


def holders(work: Work) -> Sequence[Holder]:
    """Everybody, operators first, by name."""
    query = select(Person, PersonSecret.is_password).outerjoin(PersonSecret, PersonSecret.person_id == Person.id)
    with work.read() as session:
        waiting = codes_that_wait(session, work.clock())
        found = [
            Holder(
                row.code,
                row.name,
                tuple(role.role for role in row.roles),
                is_password,
                row.code in waiting,
            )
            for row, is_password in session.execute(query).unique()
        ]
    return sorted(found, key=lambda one: (one.needs_password, one.name))


def has_supervisor(work: Work) -> bool:
    """Whether there is anybody who can let people and tablets in."""
    with work.read() as session:
        return _has_supervisor(session)


def _has_supervisor(session: Session) -> bool:
    query = (
        select(PersonSecret.person_id)
        .join(PersonRole, PersonRole.person_id == PersonSecret.person_id)
        .where(PersonRole.role == Role.ADMIN, PersonSecret.is_password)
    )
    return session.scalar(query.limit(1)) is not None


def give_secret(work: Work, raw: Mapping[str, object]) -> str:
    """Give a person a PIN or a password: 'person', 'secret' and 'again' in `raw`; returns the person's name.

    Log-ins made with the old one end.

    Raises
    ------
    InputError    nobody of this code, a secret that may not be used, or typed differently the second time
    """
    new = read_new_secret(raw)
    with work.write() as session:
        person = person_of(session, new.person)
        _give(session, work, person, new.secret)
        return person.name


def first_supervisor(work: Work, raw: Mapping[str, object]) -> str:
    """Make a person the first supervisor, with a password: 'person', 'secret', 'again'; returns the person's code.

    Raises
    ------
    Conflict      there is a supervisor already
    InputError    as `give_secret`
    """
    new = read_new_secret(raw)
    with work.write() as session:
        # A concurrent request waits here and then sees this supervisor.
        hold_all(session, PersonSecret)
        if _has_supervisor(session):
            raise Conflict.of("person", "there is a supervisor already", "ask that supervisor to do it")
        return _make_supervisor(session, work, new.person, new.secret)


def make_supervisor(work: Work, raw: Mapping[str, object]) -> str:
    """Make a person a supervisor, with a password: 'person', 'secret', 'again'; returns the person's code.

    Raises
    ------
    InputError    as `give_secret`
    """
    new = read_new_secret(raw)
    with work.write() as session:
        return _make_supervisor(session, work, new.person, new.secret)


def _make_supervisor(session: Session, work: Work, code: str, secret: str) -> str:
    person = person_of(session, code)
    if all(role.role is not Role.ADMIN for role in person.roles):
        person.roles.append(PersonRole(role=Role.ADMIN))
    _give(session, work, person, secret)
    return person.code


def _give(session: Session, work: Work, person: Person, secret: str) -> None:
    is_password = needs_password([role.role for role in person.roles])
    problems = _problems(work, person, secret, is_password=is_password)
    if problems:
        raise InputError(problems)
    row = PersonSecret(person_id=person.id, secret_hash=hashed(secret), is_password=is_password, set_at=work.clock())
    session.merge(row)
    end_log_ins(session, work.clock(), person=person.id)


def _problems(work: Work, person: Person, secret: str, *, is_password: bool) -> list[Problem]:
    if is_password:
        return problems_of_password(secret, (person.code, person.name))
    return problems_of_pin(secret, access(work).shortest_pin)
