"""Look up rows by the codes that people type or scan, with one message for unknown ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.codes import code_key, wrong_with
from shopfloor.core.input.reader import is_writable, shown
from shopfloor.core.phrases import phrase
from shopfloor.core.value_words import field_of, in_words
from shopfloor.store import Job, Material, Person, Station, Tap, TapType

Coded = TypeVar("Coded", TapType, Material, Station, Person, Tap, Job)

Finder = Callable[[type[Any], str], Any]
"""Table and code -> row or None."""

_NAMES = ("name", "part")
_KIND = {
    TapType: phrase("tap type"),
    Material: phrase("material"),
    Station: phrase("station"),
    Person: phrase("person"),
    Tap: phrase("tap"),
    Job: phrase("job"),
}


def find_in(session: Session, table: type[Coded], code: str) -> Coded | None:
    """The row with that code, or one easily mistaken for it; an exact match wins.

    Codes of an old record that look like another one have no key: they are found by exact match only.
    """
    if not is_writable(code):
        return None
    exact = session.scalar(select(table).where(table.code == code))
    if exact is not None or not (key := code_key(code)):
        return exact
    return session.scalar(select(table).where(table.code_key == key))


def holds(table: type[Coded], part: str) -> ColumnElement[bool]:
    """SQL condition that a row's code contains this part, ignoring differences that people overlook."""
    return table.code_key.contains(code_key(part), autoescape=True) | table.code.contains(part, autoescape=True)


def look_up(find: Finder, problems: list[Problem], table: type[Any], code: str | None, field: str) -> Any:
    """The row with this code; an unknown one is added to `problems`, a missing one is not."""
    if code is None:
        return None
    row = find(table, code)
    if row is None:
        kind = _KIND[table]
        problems.append(
            Problem(
                field,
                phrase("{code} is not a {kind} of this shop", code=shown(code), kind=kind),
                phrase("choose a {kind} that is listed", kind=kind),
            )
        )
    return row


def problems_of_new(session: Session, table: type[Any], code: str, field: str) -> list[Problem]:
    """Why a new thing cannot have this code: it is misleading, or looks like codes of an old record."""
    wrong = wrong_with(code)
    if wrong is not None:
        return [Problem(field, *wrong)]
    like = next(iter(without_key(session, table).get(code_key(code), ())), None)
    if like is None:
        return []
    what = phrase("{code} looks like {like}", code=shown(code), like=shown(like))
    return [Problem(field, what, "give a code that cannot be mistaken for it")]


def must_be_new(session: Session, table: type[Any], code: str, field: str) -> None:
    """Refuse a code that a new thing cannot have; raises InputError with `problems_of_new`."""
    problems = problems_of_new(session, table, code, field)
    if problems:
        raise InputError(problems)


def without_key(session: Session, table: type[Any]) -> dict[str, list[str]]:
    """Codes of an old record that look alike, by the key that they share."""
    found: dict[str, list[str]] = {}
    for code in session.scalars(select(table.code).where(table.code_key.is_(None)).order_by(table.id)):
        found.setdefault(code_key(code), []).append(code)
    return found


def fill_in(row: Any, values: Mapping[str, Any], problems: list[Problem]) -> bool:
    """Fill in what a row made by an import lacks; False if the values add nothing.

    Known values are never changed here; a different one is added to `problems`.
    """
    lacking = [name for name, value in values.items() if value is not None and _is_lacking(row, name)]
    for name, value in values.items():
        if name in lacking:
            setattr(row, name, value)
        elif value is not None and not _is_same(value, getattr(row, name)):
            told = phrase("'{value}'", value=in_words(name, getattr(row, name.removesuffix("_id"))))
            what = phrase("it is {told} already", told=told)
            problems.append(
                Problem(field_of(name), what, "leave it as it is, or change it on the page of what is listed")
            )
    return bool(lacking)


def _is_same(value: Any, known: Any) -> bool:
    if isinstance(value, list):
        return {one.role for one in value} <= {one.role for one in known}
    return bool(value == known)


def _is_lacking(row: Any, name: str) -> bool:
    """Whether a value is missing, or a name is only the code that the import used in its place."""
    value = getattr(row, name)
    return value is None or value == [] or (name in _NAMES and value == row.code)
