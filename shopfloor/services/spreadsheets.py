"""Tables of people: a CSV file or an Excel workbook becomes rows of text, and rows become such a file.

pandas reads and writes them. It is slow to load, so only a command that handles such a file does.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import BinaryIO, TextIO
from xml.etree.ElementTree import ParseError

import numpy as np

from shopfloor.core.errors import InputError
from shopfloor.core.input.csv_table import SheetCells, written
from shopfloor.core.input.reader import shown

WORKBOOK = ".xlsx"
"""How the name of a workbook ends."""

_SEPARATORS = ",;\t"
_LARGEST_BYTES = 100 * 2**20
_LARGEST_UNPACKED = 500 * 2**20
"""What a workbook may hold; a bomb of 1 MB unpacks to 1 GB."""

_WIDEST = 512
_MOST_ROWS = 1_048_576
"""Rows of a sheet, the heading among them: Excel's own limit."""

_ZIP, _OLD_OFFICE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")
"""A character that XML cannot hold, as a workbook writes it (ISO/IEC 29500, ST_Xstring)."""

_NO_CHARACTERS = re.compile("[\ufffe\uffff]")
"""What makes a workbook unreadable, and is no character anyhow (Unicode 23.7)."""

_NO_WORKBOOK = (
    zipfile.BadZipFile, zlib.error, ParseError, ArithmeticError, AttributeError, LookupError, NotImplementedError,
    OSError, RuntimeError, TypeError, ValueError,
)  # fmt: skip
"""What openpyxl raises where a part of the file is missing or is not what it should be."""


def read_cells(path: Path) -> SheetCells:
    """The cells of a CSV file, or of the first sheet of a workbook, as a person would have typed them.

    Raises
    ------
    InputError    no such file, too large, neither a workbook nor UTF-8 text, quotes that do not fit
    """
    content = _content(path)
    if content.startswith(_OLD_OFFICE):
        what = f"{path.name} is an old workbook (.xls), or one with a password"
        raise InputError.of("file", what, "save it as .xlsx or CSV UTF-8, without a password")
    return SheetCells(path.name, _sheet(path.name, content) if content.startswith(_ZIP) else _csv(path.name, content))


def write_csv(out: TextIO, heading: Sequence[str], rows: Iterable[Sequence[object]]) -> int:
    """Write the rows as CSV, no cell of which a spreadsheet runs as a formula; returns how many there are."""
    import pandas as pd

    cells = [[written(value) for value in row] for row in rows]
    # Left bare, a lone carriage return would end the row for whoever reads the file.
    is_bare = any("\r" in cell for row in cells for cell in row)
    table = pd.DataFrame(cells, columns=list(heading), dtype=object)
    table.to_csv(out, index=False, lineterminator="\n", quoting=csv.QUOTE_ALL if is_bare else csv.QUOTE_MINIMAL)
    return len(table)


def write_workbook(out: BinaryIO, heading: Sequence[str], rows: Iterable[Sequence[object]]) -> int:
    """Write the rows as a workbook: numbers as such, everything else as text; returns how many there are.

    Raises
    ------
    InputError    more rows than a sheet holds
    """
    import pandas as pd

    table = pd.DataFrame([[_kept(value) for value in row] for row in rows], columns=list(heading), dtype=object)
    if len(table) >= _MOST_ROWS:
        raise InputError.of("output", f"{len(table):,} rows do not fit into a sheet", "write CSV")
    as_text = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with pd.ExcelWriter(out, engine="xlsxwriter", engine_kwargs={"options": as_text}) as book:
        table.to_excel(book, index=False, freeze_panes=(1, 0))
    return len(table)


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError.of("file", f"{path.name} is larger than {_LARGEST_BYTES >> 20} MB", "split it")
        return path.read_bytes()
    except OSError as error:
        what = f"{shown(path)} cannot be read ({error.strerror})"
        raise InputError.of("file", what, "give a CSV file or a workbook (.xlsx)") from None


def _csv(name: str, content: bytes) -> list[list[str]]:
    import pandas as pd

    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        what = f"{name} is not UTF-8 text (at byte {error.start})"
        raise InputError.of("file", what, "save it as CSV UTF-8") from None
    first = text.lstrip().split("\n", 1)[0]
    separator = max(_SEPARATORS, key=first.count)
    width = first.count(separator) + 1
    while width <= _WIDEST:
        try:
            return _csv_of(text, separator, width)
        except pd.errors.ParserWarning:  # a row is longer than that
            width *= 2
        except pd.errors.EmptyDataError:
            return []
        except (pd.errors.ParserError, ValueError) as error:
            raise InputError.of("file", f"{name} is not a CSV file ({error})", "save it as CSV") from None
    raise InputError.of("file", f"a row of {name} has over {_WIDEST} cells", "leave out what is no table")


def _csv_of(text: str, separator: str, width: int) -> list[list[str]]:
    """The rows, each with as many cells as it has; every cell as it stands there."""
    import pandas as pd

    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        table = pd.read_csv(
            io.StringIO(text, newline=""),
            sep=separator,
            # It refuses quotes that do not fit, and tells an empty cell from none; the C engine ends a cell at NUL.
            engine="python",
            header=None,
            names=range(width),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
        )
    return [[cell for cell in row if isinstance(cell, str)] for row in table.to_numpy(dtype=object).tolist()]


def _sheet(name: str, content: bytes) -> list[list[str]]:
    import pandas as pd

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
        if unpacked > _LARGEST_UNPACKED:
            what = f"{name} unpacks to more than {_LARGEST_UNPACKED >> 20} MB"
            raise InputError.of("file", what, "split it, or save it as CSV UTF-8")
        with warnings.catch_warnings(), pd.ExcelFile(io.BytesIO(content), engine="openpyxl") as book:
            warnings.simplefilter("ignore")  # of what openpyxl leaves out: styles, drawings, checks of input
            table = book.parse(0, header=None, dtype=object, keep_default_na=False, na_filter=False)
    except InputError:
        raise
    except _NO_WORKBOOK:
        what = f"{name} is no workbook that can be read"
        raise InputError.of("file", what, "save it anew as .xlsx, or as CSV UTF-8") from None
    return [[_typed(cell) for cell in row] for row in table.to_numpy(dtype=object).tolist()]


def _typed(cell: object) -> str:
    """What a person would have typed to get this cell of a sheet."""
    if isinstance(cell, str):
        return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), cell)
    if isinstance(cell, bool):
        return str(cell).upper()
    if isinstance(cell, float):
        # A sheet shows 15 digits, and a formula that failed comes as no number.
        return "#ERROR" if np.isnan(cell) else str(np.format_float_positional(float(f"{cell:.15g}"), trim="-"))
    return _moment_typed(cell) if isinstance(cell, datetime | time) else "" if cell is None else str(cell)


def _moment_typed(cell: datetime | time) -> str:
    """Sheets count days: what lies below a millisecond is rounding, and midnight is how they keep a day."""
    if isinstance(cell, time):
        return _time_typed(cell)
    near = cell + timedelta(microseconds=500)
    near = near.replace(microsecond=near.microsecond // 1000 * 1000)
    day = date.isoformat(near)
    return day if near.time() == time() else f"{day}T{_time_typed(near.time())}"


def _time_typed(cell: time) -> str:
    if cell.microsecond:
        return cell.isoformat(timespec="milliseconds")
    return cell.isoformat(timespec="seconds" if cell.second else "minutes")


def _kept(value: object) -> object:
    """The value as a workbook keeps it: a number, or text that nothing reads as anything else."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    return "" if value is None else _NO_CHARACTERS.sub("\ufffd", str(value))
