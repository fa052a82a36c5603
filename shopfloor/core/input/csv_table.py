"""Reads CSV files as spreadsheets write them: any separator, byte-order mark, headings in any case."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.reader import shown

_SEPARATORS = ",;\t"
_LARGEST_BYTES = 100 * 2**20
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class CsvRow:
    """One row of a file: its number as a spreadsheet shows it, and its cells by field."""

    number: int
    cells: Mapping[str, str]


def read_table(path: Path, columns: Mapping[str, Sequence[str]], required: Sequence[str]) -> list[CsvRow]:
    """The rows of a CSV file.

    Parameters
    ----------
    path : Path
    columns : mapping      field -> the headings that may stand for it, in lower case with single blanks
    required : sequence    fields whose column must be there

    Raises
    ------
    InputError    no such file, not UTF-8 text, no heading, unknown, missing or doubled columns, ragged rows
    """
    text = _text(path)
    if not text.strip():
        raise InputError.of("file", f"{path.name} is empty", "give a CSV file with a heading and rows")
    try:
        table = list(csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True))
    except csv.Error as error:
        raise InputError.of("file", f"{path.name} is not a CSV file ({error})", "save it as CSV") from None
    heading = next(i for i, cells in enumerate(table) if any(cell.strip() for cell in cells))
    fields = _fields(table[heading], columns, required)
    rows, problems = [], []
    for number, cells in enumerate(table[heading + 1 :], start=heading + 2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(fields) and any(cell.strip() for cell in cells[len(fields) :]):
            problems.append(
                Problem("row", f"it has {len(cells)} cells", f"give {len(fields)} as in the heading", number)
            )
        rows.append(CsvRow(number, dict(zip(fields, cells, strict=False))))
    if problems:
        raise InputError(problems)
    if not rows:
        raise InputError.of("file", f"{path.name} has a heading but no rows", "give at least one row")
    return rows


def written(value: object) -> str:
    """The value as a cell: None is empty, and text that a spreadsheet would run as a formula is quoted."""
    text = "" if value is None else str(value)
    is_number = isinstance(value, int | float)
    return f"'{text}" if text.startswith(_FORMULA_STARTS) and not is_number else text


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError.of("file", f"{path.name} is larger than {_LARGEST_BYTES >> 20} MB", "split it")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = f"byte {error.start}"
        raise InputError.of("file", f"{path.name} is not UTF-8 text (at {place})", "save it as CSV UTF-8") from None
    except OSError as error:
        raise InputError.of("file", f"{shown(path)} cannot be read ({error.strerror})", "give a CSV file") from None


def _separator(text: str) -> str:
    return max(_SEPARATORS, key=text.lstrip().split("\n", 1)[0].count)


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
