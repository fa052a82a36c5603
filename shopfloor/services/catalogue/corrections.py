"""Change a person, station, material, job or tap type; earlier values stay on record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.input.catalogue_entries import BLIND, THROUGH, KnownPersonEntry, TapTypeEntry
from shopfloor.core.input.catalogue_reading import Answer, CatalogueEntry, read_changes
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.core.units import NM_PER_FT_LB, Units
from shopfloor.core.value_words import field_of
from shopfloor.core.vocabulary import Role, Word
from shopfloor.services.access.rules import access
from shopfloor.services.catalogue.past_values import PastChange, past_changes
from shopfloor.services.catalogue.tap_types import thread_changed
from shopfloor.services.catalogue.things import KINDS, entry_context, holes_changed
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import Job, Person, PersonRole, PersonSecret, TapType
from shopfloor.store.engine import hold

TAP_TYPES = "tap types"
_ENTRIES: dict[str, type[CatalogueEntry]] = {
    **{name: kind.entry for name, kind in KINDS.items()},
    "people": KnownPersonEntry,
    TAP_TYPES: TapTypeEntry,
}
_TABLES: dict[str, type[Any]] = {**{name: kind.table for name, kind in KINDS.items()}, TAP_TYPES: TapType}


@dataclass(frozen=True)
class Known:
    """One thing as its form shows it.

    Attributes
    ----------
    typed    its fields, as a person would type or choose them
    roles    of a person
    seen     identifies the state shown, so that nobody overwrites a later one unawares
    past     its history, newest first
    """

    code: str
    typed: Mapping[str, str]
    roles: tuple[Role, ...]
    seen: int
    past: tuple[PastChange, ...]


def known(work: Work, kind: str, code: str, decimal_mark: str = ".") -> Known:
    """A thing with its fields; raises NotFound if there is none."""
    with work.read() as session:
        row = _row(session, kind, code)
        roles = tuple(role.role for role in row.roles) if isinstance(row, Person) else ()
        typed = _typed(work, kind, row, decimal_mark)
        return Known(row.code, typed, roles, row.edit_id or 0, past_changes(session, row))


@tried_again
def change(work: Work, kind: str, code: str, raw: Mapping[str, object], by: str, decimal_mark: str = ".") -> None:
    """Change a thing; a field left as it was shown keeps its exact value.

    `raw` holds the fields of the form, and `seen` of the state that it showed.

    Raises
    ------
    NotFound      no such thing
    Conflict      it was changed after it was shown
    InputError    every field that cannot be used
    """
    with work.write(by) as session:
        row = _row(session, kind, code)
        hold(session, _TABLES[kind], {row.id})
        session.refresh(row)
        person_of(session, by)
        if str(row.edit_id or 0) != str(raw.get("seen") or ""):
            raise Conflict.of("code", _meanwhile(session, row), "check the changes below, then save again")
        context = entry_context(work, session, decimal_mark)
        values = read_changes(_ENTRIES[kind], raw, context, _typed(work, kind, row, decimal_mark))
        roles = values.pop("roles", None)
        for name, value in values.items():
            setattr(row, name, value)
        if roles is not None:
            _give_roles(work, session, row, roles)
        session.flush()
        _follow(session, row, values)


def _row(session: Session, kind: str, code: str) -> Any:
    row = find_in(session, _TABLES[kind], code)
    if row is None:
        raise NotFound(f"no {kind} {code}")
    return row


def _meanwhile(session: Session, row: Any) -> str:
    last = next(iter(past_changes(session, row)), None)
    if last is None or last.by is None:
        return phrase("it was changed in the meantime")
    return phrase("{name} changed it in the meantime", name=last.by)


def _give_roles(work: Work, session: Session, person: Person, roles: Sequence[Role]) -> None:
    leaving = [role for role in person.roles if role.role not in roles]
    if any(role.role is Role.ADMIN for role in leaving):
        _must_leave_a_supervisor(work, session, person)
    for role in leaving:
        role.ends = True
    session.flush()
    for role in leaving:
        session.delete(role)
    has = {role.role for role in person.roles}
    person.roles += [PersonRole(role=role) for role in roles if role not in has]


def _must_leave_a_supervisor(work: Work, session: Session, person: Person) -> None:
    others = (
        select(PersonRole.person_id)
        .join(PersonSecret, PersonSecret.person_id == PersonRole.person_id)
        .where(PersonRole.role == Role.ADMIN, PersonSecret.is_password, PersonRole.person_id != person.id)
    )
    if access(work).is_in_use and session.scalar(others.limit(1)) is None:
        what = phrase("without {name} nobody could let people and tablets in", name=shown(person.name))
        raise InputError.of("roles", what, "make somebody else a supervisor first")


def _follow(session: Session, row: Any, values: Mapping[str, Any]) -> None:
    """Recompute the lives that depend on what was changed."""
    if isinstance(row, TapType) and "thread" in values:
        thread_changed(session, row.id)
    if isinstance(row, Job) and values:
        holes_changed(session, row.id)


def _typed(work: Work, kind: str, row: Any, decimal_mark: str) -> dict[str, str]:
    """The fields of a thing, as a person would type or choose them."""
    if kind == "people":
        return {"name": row.name}
    columns = [field.name for field in fields(_ENTRIES[kind])]
    units = (row.units if isinstance(row, Job) else None) or work.settings.drawn_in
    return {field_of(name): _as_typed(row, name, units).replace(".", decimal_mark, _marks(name)) for name in columns}


def _marks(name: str) -> int:
    """How many decimal marks the text of a field may contain; in a name a point is just a point."""
    return int(name.endswith(("_mm", "_nm", "_cost", "_ratio")))


def _as_typed(row: Any, name: str, units: Units) -> str:
    value = getattr(row, name)
    if value is None:
        return ""
    if name == "material_id":
        return str(row.material.code)
    if name == "is_blind":
        return BLIND if value else THROUGH
    if isinstance(value, bool):
        return str((Answer.YES if value else Answer.NO).value)
    if name.endswith("_mm"):
        return f"{_number(units.of_mm(value))} {'in' if units is Units.INCH else 'mm'}"
    if name.endswith("_nm"):
        return f"{_number(value / NM_PER_FT_LB)} ft-lb" if units is Units.INCH else f"{_number(value)} N m"
    if isinstance(value, Word):
        return str(value.value)
    return _number(value) if name in ("unit_cost", "reducer_ratio") else str(value)


def _number(value: Any) -> str:
    """A number with as many decimals as the field takes; never three, which could be read as thousands."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return f"{text}0" if len(text.partition(".")[2]) == 3 else text
