"""From the codes that people type or scan to rows, with one message for whatever is not known."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.core.errors import Problem
from shopfloor.core.reading import shown
from shopfloor.store import Job, Material, Person, Station, Tap, TapType

Coded = TypeVar("Coded", TapType, Material, Station, Person, Tap, Job)

Finder = Callable[[type[Any], str], Any]
"""Table and code -> row or None."""

_KIND = {TapType: "tap type", Material: "material", Station: "station", Person: "person", Tap: "tap", Job: "job"}


def find_in(session: Session, table: type[Coded], code: str) -> Coded | None:
    """The row of that code, upper and lower case alike; an exact match wins."""
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
        problems.append(Problem(field, f"{shown(code)} is no {kind} of this shop", f"choose a {kind} that is listed"))
    return row
