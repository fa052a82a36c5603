"""Reads a life table, one row per life (or per several alike), by group if wanted."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.input.csv_table import CsvRow, SheetCells, read_table
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import rounded
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.vocabulary import IsoGroup

_OF_LIVES = ("lower", "upper", "entry", "mode", "count")
_OF_GROUPS = ("tap type", "material", "iso group", "speed")
_DEPTH = "depth"
COLUMNS = {name: (name,) for name in (*_OF_LIVES, *_OF_GROUPS, _DEPTH)}
REQUIRED = ("lower", "upper")

_WHEN_EMPTY = {"upper": math.inf, "entry": 0.0, "count": 1.0}
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_LONGEST_NUMBER = 40
_LONGEST_WORD = 100
_MOST_GROUPS = 200
_LEAST_SHARE_FOLLOWED = 1e-4
_FASTEST = 1000.0
"""m/min: no tap is turned faster."""
_DEEPEST = 1000.0
"""mm: no tap cuts as deep."""


def number_in(text: str) -> float | None:
    """The finite number written in a text with digits, a decimal point and an exponent; None for anything else."""
    text = text.strip()
    if len(text) > _LONGEST_NUMBER or not _NUMBER.fullmatch(text):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


@dataclass(frozen=True, eq=False)
class GroupedLives:
    """Lives, each with its condition.

    Attributes
    ----------
    conditions      those that occur, in the order of the table; a single one, without names, where no column says
    place           shape (n,): index of each life's condition in `conditions`
    depth_mm        shape (n,): depth of thread of each of the life's holes, NaN where unknown
    """

    lives: Lives
    conditions: tuple[Condition, ...]
    place: IntArray
    depth_mm: FloatArray

    @property
    def is_grouped(self) -> bool:
        """Whether it has several groups."""
        return len(self.conditions) > 1


def read_life_table(cells: SheetCells) -> GroupedLives:
    """Read the lives in a table.

    Parameters
    ----------
    cells : SheetCells
        Columns `lower`, `upper` (equal: failed at that age; empty upper: not failed; else failed in between), optional
        `entry` (age when first followed), `mode` (empty where not failed), `count`; optional, where taps of several
        kinds or uses stand in one table: `tap type`, `material`, `iso group` (P, M, K, N, S or H), `speed` (surface
        speed in m/min); optional `depth` of thread of each hole in mm

    Raises
    ------
    InputError      no such table, or every error in its rows, each with row and column; too many groups
    """
    rows = read_table(cells, COLUMNS, REQUIRED)
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
    problems += [problem for life in read if (problem := _hardly_followed(life)) is not None]
    places: dict[Condition, int] = {}
    place = np.array([places.setdefault(life.condition, len(places)) for life in read], np.int64)
    if len(places) > _MOST_GROUPS:
        what = f"{len(places):,} groups of tap type, material and speed"
        problems.append(Problem("file", what, f"give at most {_MOST_GROUPS}, speeds rounded"))
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.row or 0))
    return GroupedLives(lives, tuple(places), place, np.array([life.depth for life in read], np.float64))


@dataclass(frozen=True)
class _Life:
    """One row as read, not yet validated."""

    row: int
    lower: float
    upper: float
    entry: float
    mode: str
    count: float
    condition: Condition
    depth: float


def _hardly_followed(life: _Life) -> Problem | None:
    """Reject a failure less than one hole, and a negligible share of its age, after the life was first followed.

    Such a life says only that it failed at once: a few of them make the scale and the shape unidentifiable.
    """
    followed = life.upper - life.entry
    if not 0 < followed < min(1.0, _LEAST_SHARE_FOLLOWED * life.upper):
        return None
    remedy = "give an age at least one hole before it, or leave it empty for a tap that was new"
    return Problem("entry", "next to the age of failure", remedy, life.row)


def _life(row: CsvRow, problems: list[Problem]) -> _Life | None:
    """A row's life, or None (with its problems noted) where a cell cannot be read."""
    before = len(problems)
    numbers = {name: _number(row, name, problems) for name in ("lower", *_WHEN_EMPTY)}
    mode = _word(row, "mode", "use a short word, such as break", problems)
    condition, depth = _condition(row, problems), _depth(row, problems)
    if len(problems) > before:
        return None
    return _Life(row=row.number, mode=mode, condition=condition, depth=depth, **numbers)


def _condition(row: CsvRow, problems: list[Problem]) -> Condition:
    tap_type = _word(row, "tap type", "use its short name", problems)
    material = _word(row, "material", "use its short name", problems)
    speed = _measured(row, "speed", f"give the surface speed in m/min, {_up_to(_FASTEST)}", _FASTEST, problems)
    return Condition(tap_type, material, _iso_group(row, problems), speed)


def _depth(row: CsvRow, problems: list[Problem]) -> float:
    remedy = f"give the depth of thread of one hole in mm, {_up_to(_DEEPEST)}"
    depth = _measured(row, _DEPTH, remedy, _DEEPEST, problems)
    return math.nan if depth is None else depth


def _up_to(most: float) -> str:
    return f"above 0 and up to {rounded(most)}"


def _iso_group(row: CsvRow, problems: list[Problem]) -> IsoGroup | None:
    text = row.cells.get("iso group", "").strip()
    known = {group.value.casefold(): group for group in IsoGroup}
    if text and text.casefold() not in known:
        letters = ", ".join(group.value for group in IsoGroup)
        problems.append(
            Problem("iso group", f"{shown(text)} is not an ISO 513 group", f"use one of {letters}", row.number)
        )
    return known.get(text.casefold())


def _measured(row: CsvRow, name: str, remedy: str, most: float, problems: list[Problem]) -> float | None:
    """A measurement above 0 and up to `most`; None where the cell is empty."""
    text = row.cells.get(name, "").strip()
    number = number_in(text) if text else None
    if text and (number is None or not 0 < number <= most):
        problems.append(Problem(name, f"{shown(text)} is not a valid {name}", remedy, row.number))
    return number


def _word(row: CsvRow, name: str, remedy: str, problems: list[Problem]) -> str:
    word = row.cells.get(name, "").strip()
    if len(word) > _LONGEST_WORD or not word.isprintable():
        problems.append(Problem(name, f"{shown(word)} is not a valid {name}", remedy, row.number))
    return word


def _number(row: CsvRow, name: str, problems: list[Problem]) -> float:
    text = row.cells.get(name, "")
    number = number_in(text) if text.strip() else _WHEN_EMPTY.get(name)
    if number is not None:
        return number
    what = f"{shown(text)} is not a number" if text.strip() else "it is empty"
    problems.append(Problem(name, what, "write digits with a decimal point, such as 447 or 12.5", row.number))
    return math.nan
