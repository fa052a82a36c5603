"""From the codes that people type or scan to rows, with one message for whatever is not known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Problem
from shopfloor.core.phrases import figure, phrase
from shopfloor.core.reading import is_writable, shown
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
    """The row of that code, upper and lower case alike; an exact match wins."""
    if not is_writable(code):
        return None
    exact = session.scalar(select(table).where(table.code == code))
    if exact is not None:
        return exact
    alike = session.scalars(select(table).where(func.lower(table.code) == code.lower()).limit(2)).unique().all()
    return alike[0] if len(alike) == 1 else None


def look_up(find: Finder, problems: list[Problem], table: type[Any], code: str | None, field: str) -> Any:
    """The row that `code` names; an unknown one is noted in `problems`, a missing one is no problem here."""
    if code is None:
        return None
    row = find(table, code)
    if row is None:
        kind = _KIND[table]
        problems.append(
            Problem(
                field,
                phrase("{code} is no {kind} of this shop", code=shown(code), kind=kind),
                phrase("choose a {kind} that is listed", kind=kind),
            )
        )
    return row


def fill_in(row: Any, values: Mapping[str, Any], problems: list[Problem]) -> bool:
    """Give a row that an import made what it lacks; False where the values bring nothing that it lacks.

    What is known already is never changed here: another value for it is noted in `problems`.
    """
    lacking = [name for name, value in values.items() if value is not None and _is_lacking(row, name)]
    for name, value in values.items():
        known = getattr(row, name)
        if name in lacking:
            setattr(row, name, value)
        elif value is not None and value != known:
            told = phrase("'{value}'", value=_in_words(row, name))
            what = phrase("it is {told} already", told=told)
            problems.append(Problem(_field(name), what, "leave what is listed as it is"))
    return bool(lacking)


def _field(column: str) -> str:
    """What a form calls it."""
    return "hole" if column == "is_blind" else column.removesuffix("_id")


def _in_words(row: Any, name: str) -> str:
    """What is known, as a person would type or choose it."""
    known = getattr(row, name)
    if name.endswith("_id"):
        return str(getattr(row, name.removesuffix("_id")).name)
    if name == "is_blind":
        return phrase("blind") if known else phrase("through")
    if isinstance(known, bool):
        return (phrase("Yes") if known else phrase("No")).lower()
    if isinstance(known, float | Decimal):
        return figure(f"{known:g}")
    return getattr(known, "label", None) or str(known)


def _is_lacking(row: Any, name: str) -> bool:
    """Nothing is there, or, for a name, only the code that the import put in its place."""
    value = getattr(row, name)
    return value is None or value == [] or (name in _NAMES and value == row.code)
