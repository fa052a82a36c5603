"""The shop's access rules, stored in its record: whether PINs are in use, and how long a log-in lasts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import timedelta

from sqlalchemy import select

from shopfloor.core.errors import InputError
from shopfloor.core.input.passwords import LONGEST_PIN, SHORTEST_PIN
from shopfloor.core.input.reader import Reader
from shopfloor.services.record.work import Work
from shopfloor.store import ShopFact

_PREFIX = "access "
_MOST_IDLE_MINUTES = 120
_MOST_SHIFT_HOURS = 24
YES, NO = "yes", "no"


@dataclass(frozen=True)
class Access:
    """Whether PINs are in use, and the limits of a log-in."""

    is_in_use: bool = False
    idle_minutes: int = 10
    """Minutes without activity after which a tablet locks. Common practice, no source."""
    shift_hours: int = 10
    """Hours after which everybody has to log in again."""
    shortest_pin: int = 6
    """Minimum number of digits in a PIN; NIST SP 800-63B asks for 6 if they are chosen at random."""

    @property
    def idle(self) -> timedelta:
        """How long a log-in lasts without activity."""
        return timedelta(minutes=self.idle_minutes)

    @property
    def shift(self) -> timedelta:
        """How long a log-in lasts at most."""
        return timedelta(hours=self.shift_hours)


def access(work: Work) -> Access:
    """The rules as they stand."""
    with work.read() as session:
        facts = session.scalars(select(ShopFact).where(ShopFact.name.startswith(_PREFIX)))
        said = {fact.name.removeprefix(_PREFIX): fact.value for fact in facts}
    numbers = {name: int(said[name]) for name in _NUMBERS if name in said}
    return Access(is_in_use=said.get("is_in_use") == YES, **numbers)


def change_access(work: Work, raw: Mapping[str, object], by: str | None = None) -> Access:
    """Store the rules: is_in_use ('yes' or 'no'), idle_minutes, shift_hours, shortest_pin; returns them.

    Raises
    ------
    InputError    every value that cannot be used
    """
    reader = Reader(raw)
    numbers = {name: reader.whole(name, *limits, required=True) for name, limits in _NUMBERS.items()}
    reader.finish()
    rules = Access(raw.get("is_in_use") == YES, **{name: number or 0 for name, number in numbers.items()})
    _store(work, rules, by)
    return rules


def use_pins(work: Work, *, is_in_use: bool) -> None:
    """Turn PINs on or off; the other rules stay."""
    now = access(work)
    _store(work, Access(is_in_use, now.idle_minutes, now.shift_hours, now.shortest_pin))


_NUMBERS = {
    "idle_minutes": (1, _MOST_IDLE_MINUTES),
    "shift_hours": (1, _MOST_SHIFT_HOURS),
    "shortest_pin": (SHORTEST_PIN, LONGEST_PIN),
}


def _store(work: Work, rules: Access, by: str | None = None) -> None:
    values = {field.name: getattr(rules, field.name) for field in fields(Access)}
    values["is_in_use"] = YES if rules.is_in_use else NO
    with work.write(by) as session:
        for name, value in values.items():
            session.merge(ShopFact(name=f"{_PREFIX}{name}", value=str(value)))


def must_be_in_reach(work: Work, *, has_supervisor: bool) -> None:
    """Refuse to turn PINs on while nobody could enrol the first tablet.

    Raises
    ------
    InputError    there is no supervisor with a password
    """
    if not has_supervisor:
        raise InputError.of("is_in_use", "there is no supervisor with a password", "make the first supervisor")
