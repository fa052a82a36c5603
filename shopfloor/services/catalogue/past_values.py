"""Earlier values of a thing, who changed them and when: read from what the database recorded.

A price of the past is the one that was on record then.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Boolean, Date, Enum, Numeric, select
from sqlalchemy.orm import Session

from shopfloor.core.phrases import phrase
from shopfloor.core.value_words import field_of, in_words
from shopfloor.core.vocabulary import Role
from shopfloor.store import Earlier, Edit, Material, Person, PersonRole

_NOT_TOLD = frozenset({"id", "edit_id", "code_key"})
_NOT_YET, _TAKEN = phrase("not yet"), phrase("taken away")


@dataclass(frozen=True)
class Was:
    """One changed field: its name in the form, and its values before and after, in words."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class PastChange:
    """One edit. Without fields: the thing was added; `by` None: unknown."""

    at: datetime
    by: str | None
    fields: tuple[Was, ...]


def past_changes(session: Session, row: Any) -> tuple[PastChange, ...]:
    """The history of a thing since it was added, newest first."""
    kept = _kept(session, row.__tablename__, row.id)
    states = [*(state for _, state in kept), _now(row)]
    found = [
        PastChange(*_signed(session, earlier), _differences(session, row, *states[n : n + 2]))
        for n, (earlier, _) in enumerate(kept)
    ]
    found = [change for change in found if change.fields]
    if isinstance(row, Person):
        found += _roles(session, row)
    first = session.get(Edit, states[0]["edit_id"] or 0)
    began = [] if first is None else [PastChange(first.at, _name(session, first.by_id), ())]
    found.reverse()
    return (*sorted(found, key=lambda change: change.at, reverse=True), *began)


def _kept(session: Session, kind: str, thing: int) -> list[tuple[Earlier, dict[str, Any]]]:
    query = select(Earlier).where(Earlier.kind == kind, Earlier.thing == str(thing)).order_by(Earlier.id)
    return [(earlier, json.loads(earlier.was, parse_float=Decimal)) for earlier in session.scalars(query)]


def _signed(session: Session, earlier: Earlier) -> tuple[datetime, str | None]:
    edit = session.get(Edit, earlier.edit_id or 0)
    return (earlier.at, None) if edit is None else (edit.at, _name(session, edit.by_id))


def _name(session: Session, person: int | None) -> str | None:
    found = session.get(Person, person or 0)
    return None if found is None else found.name


def _now(row: Any) -> dict[str, Any]:
    return {column.name: getattr(row, column.name) for column in row.__table__.columns}


def _differences(session: Session, row: Any, old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Was, ...]:
    found = []
    for column in row.__table__.columns:
        before, after = (_typed(column.type, state.get(column.name)) for state in (old, new))
        if column.name not in _NOT_TOLD and before != after:
            told = (_told(session, column.name, value) for value in (before, after))
            found.append(Was(field_of(column.name), *told))
    return tuple(found)


def _told(session: Session, name: str, value: Any) -> str:
    return in_words(name, session.get(Material, value) if name == "material_id" else value)


def _typed(kind: Any, value: Any) -> Any:
    """A value that the database wrote as JSON, converted to the program's type; other values stay as they are."""
    if value is None:
        return None
    if isinstance(kind, Enum) and kind.enum_class is not None:
        return kind.enum_class(value)
    if isinstance(kind, Boolean):
        return bool(value)
    if isinstance(kind, Numeric) and kind.asdecimal:
        return Decimal(str(value))
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(kind, Date) and isinstance(value, str):
        return date.fromisoformat(value)
    return value


def _roles(session: Session, person: Person) -> list[PastChange]:
    """Roles granted after the person was added, and roles revoked."""
    taken = _kept(session, PersonRole.__tablename__, person.id)
    given = [(role.role, role.edit_id) for role in person.roles]
    given += [(_role(was), was["edit_id"]) for _, was in taken]
    first = _first_edit(session, person)
    found = [PastChange(*_signed(session, kept), (Was("role", _role(was).label, _TAKEN),)) for kept, was in taken]
    for role, edit_id in given:
        edit = session.get(Edit, edit_id or 0)
        if edit is not None and edit.id != first:
            found.append(PastChange(edit.at, _name(session, edit.by_id), (Was("role", _NOT_YET, role.label),)))
    return found


def _role(was: Mapping[str, Any]) -> Role:
    return next(role for role in Role if role.value == was["role"])


def _first_edit(session: Session, person: Person) -> int | None:
    kept = _kept(session, person.__tablename__, person.id)
    edit: int | None = kept[0][1]["edit_id"] if kept else person.edit_id
    return edit
