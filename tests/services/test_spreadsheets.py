"""Tables of people: files become rows of text without being falsified, and rows become files that nothing runs."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from shopfloor.core.errors import InputError
from shopfloor.core.input.csv_table import written
from shopfloor.services import spreadsheets
from shopfloor.services.spreadsheets import read_cells, write_csv, write_workbook

HEADING = ["tap", "holes", "note"]
CELL = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00\ufffe\uffff"), max_size=12) | (
    st.text("=+-@\t\r\n \"',;_x000D_é", max_size=8)
)
ROWS = st.lists(st.tuples(st.just("T1"), st.integers(0, 10**6), CELL), min_size=1, max_size=5)


def read(content: bytes, name: str = "file") -> list[list[str]]:
    """The cells of a file with that content."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        return [list(row) for row in read_cells(path).rows]


def csv_of(rows: Sequence[Sequence[object]]) -> bytes:
    """The rows as a CSV file."""
    out = io.StringIO(newline="")
    assert len(rows) == write_csv(out, HEADING, rows)
    return out.getvalue().encode()


def workbook_of(rows: Sequence[Sequence[object]]) -> bytes:
    """The rows as a workbook."""
    out = io.BytesIO()
    assert len(rows) == write_workbook(out, HEADING, rows)
    return out.getvalue()


def by_hand(*rows: list[Any]) -> bytes:
    """A workbook as a person makes it."""
    book, out = Workbook(), io.BytesIO()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


@settings(max_examples=200, deadline=None)
@given(ROWS)
def test_csv_out_and_in_is_the_same(rows: list[tuple[str, int, str]]) -> None:
    """Whatever stands in a cell, but for the apostrophe before what a spreadsheet would run."""
    assert [HEADING, *([tap, str(holes), written(note)] for tap, holes, note in rows)] == read(csv_of(rows))


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_a_workbook_out_and_in_is_the_same(rows: list[tuple[str, int, str]]) -> None:
    """Whatever stands in a cell, a formula's beginning among it."""
    assert [HEADING, *([tap, str(holes), note] for tap, holes, note in rows)] == read(workbook_of(rows))


def test_nothing_in_a_workbook_is_run() -> None:
    """Numbers are numbers; all else is text, what looks like a formula, an address or a number as well."""
    texts = ["=1+1", "+1", "-1", "@SUM(A1)", "https://shop.example", "007"]
    sheet = load_workbook(io.BytesIO(workbook_of([["T1", 48, text] for text in texts]))).active
    assert sheet is not None
    found = [(row[1].data_type, row[2].data_type, row[2].value, row[2].hyperlink) for row in sheet.iter_rows(min_row=2)]
    assert [("n", "s", text, None) for text in texts] == found


def test_what_is_no_character_does_not_spoil_a_workbook() -> None:
    """Programs that read XML refuse a file that holds it."""
    assert "a\ufffdb" == read(workbook_of([["T1", 48, "a\uffffb"]]))[1][2]


@pytest.mark.parametrize(
    ("cell", "typed"),
    [
        (48, "48"),
        (48.0, "48"),
        (12.5, "12.5"),
        (0.1 + 0.2, "0.3"),
        (1e-7, "0.0000001"),
        (123456789012, "123456789012"),
        (True, "TRUE"),
        (None, ""),
        ("007", "007"),
        ("NA", "NA"),
        (date(2026, 5, 4), "2026-05-04"),
        (datetime(2026, 5, 4, 14, 5), "2026-05-04T14:05"),
        (datetime(2026, 5, 4, 14, 5, 59), "2026-05-04T14:05:59"),
        (datetime(2026, 5, 4, 14, 5, 59, 250_000), "2026-05-04T14:05:59.250"),
        (time(14, 5), "14:05"),
        ("#DIV/0!", "#ERROR"),
        ("a_x000D_\nb", "a\r\nb"),
    ],
)
def test_a_cell_is_what_a_person_would_have_typed(cell: object, typed: str) -> None:
    """Whole numbers without a point, days as ISO 8601; a formula that failed is not taken for an empty cell."""
    assert [["id", "x"], ["a", typed]] == read(by_hand(["id", "x"], ["a", cell]))


def test_rows_keep_their_numbers() -> None:
    """Empty ones above, between and beside count, so that messages name the row that the spreadsheet shows."""
    found = read(by_hand([], ["a", "b"], [], ["1", "2"]))
    assert [1, 3] == [number for number, row in enumerate(found) if any(row)]
    assert [[], ["a", "b"], [], ["1"]] == read(b"\na,b\n\n1\n")


def test_a_row_may_be_longer_than_the_first() -> None:
    """Cells are told apart from none, as whoever checks the table wants to say how many there are."""
    assert [["a", "b"], ["1", "2", "3", "4", "5"], ["6", ""]] == read(b"a,b\n1,2,3,4,5\n6,\n")


def test_a_formula_s_last_value_counts() -> None:
    """As the program that saved the workbook left it; openpyxl leaves none."""
    assert [["a", "b"], ["1", ""]] == read(by_hand(["a", "b"], [1, "=1+1"]))


def without_a_sheet() -> bytes:
    """A packed file that is no workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as parts:
        parts.writestr("letter.txt", "Dear crib")
    return out.getvalue()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"\xd0\xcf\x11\xe0" + bytes(600), r"old workbook \(\.xls\), or one with a password"),
        (without_a_sheet(), "is no workbook that can be read; save it anew"),
        (workbook_of([["T1", 48, ""]])[:-40], "is no workbook that can be read"),
        ("a,b\n1,2\n".encode("utf-16"), "is not UTF-8 text"),
        (b"a,b\n1,\xe9", "is not UTF-8 text"),
        (b'a,b\n"1"2,3\n', "is not a CSV file"),
        (b"a,b\n" + b"," * 1000, "has over 512 cells"),
    ],
)
def test_what_is_no_table_is_refused(content: bytes, message: str) -> None:
    """In words, with what would be right."""
    with pytest.raises(InputError, match=message):
        read(content)


def test_files_that_are_too_large_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """As they are, and as they unpack: a bomb is told by what it says of itself, before it is opened."""
    bomb = workbook_of([["T1", 48, "x" * 30_000]])
    monkeypatch.setattr(spreadsheets, "_LARGEST_UNPACKED", 20_000)
    assert len(bomb) < 20_000
    with pytest.raises(InputError, match=r"unpacks to more than \d+ MB"):
        read(bomb)
    monkeypatch.setattr(spreadsheets, "_LARGEST_BYTES", 1000)
    with pytest.raises(InputError, match=r"is larger than \d+ MB"):
        read(b"a,b\n" * 1000)


GOOD = workbook_of([["T1", 48, "good"], ["T2", 12, "broken"]])


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(0, len(GOOD) - 1), st.integers(0, 255)), min_size=1, max_size=5))
def test_any_bytes_of_a_workbook_are_read_or_refused(slips: list[tuple[int, int]]) -> None:
    """A file that a stick has spoiled brings nothing down."""
    spoilt = bytearray(GOOD)
    for place, byte in slips:
        spoilt[place] = byte
    try:
        found = read(bytes(spoilt))
    except InputError as error:
        found = [[problem.field] for problem in error.problems]
    assert all(isinstance(cell, str) for row in found for cell in row)
