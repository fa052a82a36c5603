"""Who may use the shop's record: the rules of a log-in, a PIN or password for a person, a tablet's name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta

from shopfloor.core.input.passwords import LONGEST_PASSWORD, LONGEST_PIN, SHORTEST_PIN
from shopfloor.core.input.reader import Reader
from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NAME

_MOST_IDLE_MINUTES = 120
_MOST_SHIFT_HOURS = 24
YES, NO = "yes", "no"

ACCESS_NUMBERS = {
    "idle_minutes": (1, _MOST_IDLE_MINUTES),
    "shift_hours": (1, _MOST_SHIFT_HOURS),
    "shortest_pin": (SHORTEST_PIN, LONGEST_PIN),
}
"""The numbers among the rules of a log-in, each with its limits."""


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


@dataclass(frozen=True)
class NewSecret:
    """A PIN or password for a person; whether it is long enough depends on their roles."""

    person: str
    secret: str = field(repr=False)


def read_access(raw: Mapping[str, object]) -> Access:
    """The rules of a log-in: is_in_use ('yes' or 'no'), idle_minutes, shift_hours, shortest_pin.

    Raises
    ------
    InputError    every value that cannot be used
    """
    reader = Reader(raw)
    numbers = {name: reader.whole(name, *limits, required=True) for name, limits in ACCESS_NUMBERS.items()}
    reader.finish()
    return Access(raw.get("is_in_use") == YES, **{name: number or 0 for name, number in numbers.items()})


def read_new_secret(raw: Mapping[str, object]) -> NewSecret:
    """A PIN or password for a person, typed twice: person, secret, again.

    Raises
    ------
    InputError    nobody is named, or the two do not match
    """
    reader = Reader(raw)
    code = reader.text("person", longest=LONGEST_CODE, required=True) or ""
    # A password is taken exactly as typed, spaces included.
    secret = str(raw.get("secret") or "")
    if secret != str(raw.get("again") or ""):
        reader.problem("again", "the two do not match", "type the same twice")
    reader.finish()
    return NewSecret(code, secret[: LONGEST_PASSWORD + 1])


def read_tablet_name(raw: Mapping[str, object]) -> str:
    """The name under which a tablet is enrolled ('name').

    Raises
    ------
    InputError    no name, or one that is too long
    """
    reader = Reader(raw)
    name = reader.text("name", longest=LONGEST_NAME, required=True)
    reader.finish()
    return name or ""
