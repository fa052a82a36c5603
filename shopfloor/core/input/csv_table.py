"""Reads the rows of a table as people write them: headings in any case and order, blank rows, ragged ends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.reader import shown

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class SheetCells:
    """What a file holds: its name for messages, and the cells of each row as text, the heading among them."""

    file: str
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class CsvRow:
    """One row of a file: its number as a spreadsheet shows it, and its cells by field."""

    number: int
    cells: Mapping[str, str]


def read_table(cells: SheetCells, columns: Mapping[str, Sequence[str]], required: Sequence[str]) -> list[CsvRow]:
    """The rows of a table, below its heading.

    Parameters
    ----------
    cells : SheetCells
    columns : mapping      field -> the headings that may stand for it, in lower case with single blanks
    required : sequence    fields whose column must be there

    Raises
    ------
    InputError    no heading, unknown, missing or doubled columns, rows longer than the heading, no rows
    """
    table = cells.rows
    heading = next((i for i, row in enumerate(table) if _is_filled(row)), None)
    if heading is None:
        raise InputError.of("file", f"{cells.file} is empty", "give a table with a heading and rows")
    fields = _fields(table[heading], columns, required)
    rows, problems = [], []
    for number, row in enumerate(table[heading + 1 :], start=heading + 2):
        if not _is_filled(row):
            continue
        if _is_filled(row[len(fields) :]):
            problems.append(Problem("row", f"it has {len(row)} cells", f"give {len(fields)} as in the heading", number))
        rows.append(CsvRow(number, dict(zip(fields, row, strict=False))))
    if problems:
        raise InputError(problems)
    if not rows:
        raise InputError.of("file", f"{cells.file} has a heading but no rows", "give at least one row")
    return rows


def written(value: object) -> str:
    """The value as a cell: None is empty, and text that a spreadsheet would run as a formula is quoted."""
    text = "" if value is None else str(value)
    is_number = isinstance(value, int | float)
    return f"'{text}" if text.startswith(_FORMULA_STARTS) and not is_number else text


def _is_filled(row: Sequence[str]) -> bool:
    return any(cell.strip() for cell in row)


def _fields(heading: Sequence[str], columns: Mapping[str, Sequence[str]], required: Sequence[str]) -> list[str]:
    known = {name: field for field, names in columns.items() for name in names}
    problems, fields = [], []
    for cell in heading:
        name = " ".join(cell.replace("_", " ").split()).casefold()
        field = known.get(name)
        if not name:
            fields.append("")
        elif field is None:
            problems.append(Problem(shown(cell), "no such column", f"use {', '.join(n[0] for n in columns.values())}"))
        elif field in fields:
            problems.append(Problem(shown(cell), "the column occurs twice", "keep one of them"))
        else:
            fields.append(field)
    for field in required:
        if field not in fields and not problems:
            problems.append(Problem(columns[field][0], "the column is missing", "add it"))
    if problems:
        raise InputError(problems)
    return fields
