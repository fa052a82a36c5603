"""The shop's access rules, stored in its record: whether PINs are in use, and how long a log-in lasts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

from sqlalchemy import select

from shopfloor.core.errors import InputError
from shopfloor.core.input.access_entries import ACCESS_NUMBERS, NO, YES, Access, read_access
from shopfloor.services.record.work import Work
from shopfloor.store import ShopFact

_PREFIX = "access "


def access(work: Work) -> Access:
    """The rules as they stand."""
    with work.read() as session:
        facts = session.scalars(select(ShopFact).where(ShopFact.name.startswith(_PREFIX)))
        said = {fact.name.removeprefix(_PREFIX): fact.value for fact in facts}
    numbers = {name: int(said[name]) for name in ACCESS_NUMBERS if name in said}
    return Access(is_in_use=said.get("is_in_use") == YES, **numbers)


def change_access(work: Work, raw: Mapping[str, object], by: str | None = None) -> Access:
    """Store the rules: is_in_use ('yes' or 'no'), idle_minutes, shift_hours, shortest_pin; returns them.

    Raises
    ------
    InputError    every value that cannot be used
    """
    rules = read_access(raw)
    _store(work, rules, by)
    return rules


def use_pins(work: Work, *, is_in_use: bool) -> None:
    """Turn PINs on or off; the other rules stay."""
    now = access(work)
    _store(work, Access(is_in_use, now.idle_minutes, now.shift_hours, now.shortest_pin))


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
