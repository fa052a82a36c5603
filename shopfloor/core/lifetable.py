"""Reads a life table, one life (or several alike) a row, from a CSV file."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.observations import Lives
from shopfloor.core.reading import shown
from shopfloor.core.table import Row, read_table

COLUMNS = {name: (name,) for name in ("lower", "upper", "entry", "mode", "count")}
REQUIRED = ("lower", "upper")

_WHEN_EMPTY = {"upper": math.inf, "entry": 0.0, "count": 1.0}
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_LONGEST_NUMBER = 40
_LONGEST_MODE = 100


def number_in(text: str) -> float | None:
    """The finite number that a text is, written with digits, a decimal point, an exponent; None for anything else."""
    text = text.strip()
    if len(text) > _LONGEST_NUMBER or not _NUMBER.fullmatch(text):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def read_lives(path: Path) -> Lives:
    """The lives in a CSV file.

    Parameters
    ----------
    path : Path     columns `lower`, `upper` (equal: failed at that age; empty upper: not failed; else failed in
                    between), optional `entry` (age when first followed), `mode` (empty where not failed), `count`

    Raises
    ------
    InputError      no such table, or everything that is wrong in its rows, each with row and column
    """
    rows = read_table(path, COLUMNS, REQUIRED)
    problems: list[Problem] = []
    read = [life for row in rows if (life := _life(row, problems)) is not None]
    try:
        lives = Lives.of(
            [life.lower for life in read],
            [life.upper for life in read],
            [life.entry for life in read],
            [life.mode for life in read],
            [life.count for life in read],
        )
    except InputError as error:
        problems += [replace(p, row=None if p.row is None else read[p.row].row) for p in error.problems]
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.row or 0))
    return lives


@dataclass(frozen=True)
class _Life:
    """One row as read, not yet checked for sense."""

    row: int
    lower: float
    upper: float
    entry: float
    mode: str
    count: float


def _life(row: Row, problems: list[Problem]) -> _Life | None:
    """A row's life, or None (with its problems noted) where a cell cannot be read."""
    before = len(problems)
    numbers = {name: _number(row, name, problems) for name in ("lower", *_WHEN_EMPTY)}
    mode = row.cells.get("mode", "").strip()
    if len(mode) > _LONGEST_MODE or not mode.isprintable():
        problems.append(Problem("mode", f"{shown(mode)} is no mode", "use a short word, such as break", row.number))
    return _Life(row=row.number, mode=mode, **numbers) if len(problems) == before else None


def _number(row: Row, name: str, problems: list[Problem]) -> float:
    text = row.cells.get(name, "")
    number = number_in(text) if text.strip() else _WHEN_EMPTY.get(name)
    if number is not None:
        return number
    what = f"{shown(text)} is no number" if text.strip() else "it is empty"
    problems.append(Problem(name, what, "write digits with a decimal point, such as 447 or 12.5", row.number))
    return math.nan
