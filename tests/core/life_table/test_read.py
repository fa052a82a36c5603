from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.life_table.read import GroupedLives, number_in, read_life_table
from shopfloor.core.vocabulary import IsoGroup
from shopfloor.services.spreadsheets import read_cells

INF = math.inf


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where a test writes its table."""
    return tmp_path / "lives.csv"


def lives_in(file: Path) -> GroupedLives:
    """What a file tells, as `shopfloor life` reads it."""
    return read_life_table(read_cells(file))


def test_every_column(file: Path) -> None:
    """Exact, interval, survivor, part-used, several alike."""
    file.write_text("lower,upper,entry,mode,count\n447,447,,break,\n410,460,0,break,1\n260,,,,2\n380,380.5,150,wear,\n")
    lives = lives_in(file).lives
    assert [447, 410, 260, 380] == lives.lower.tolist()
    assert [447, 460, INF, 380.5] == lives.upper.tolist()
    assert [0, 0, 0, 150] == lives.entry.tolist()
    assert ["break", "break", "", "wear"] == lives.mode.tolist()
    assert [1, 1, 2, 1] == lives.count.tolist()


@pytest.mark.parametrize(
    "content",
    [
        b"lower,upper\n447,447\n260,\n",
        b"\xef\xbb\xbfLower;UPPER\r\n447;447\r\n260;\r\n",
        b"upper,lower\n447,447\n,260\n\n",
        b'"lower","upper"\n" 447 ",447\n260,\n,\n',
        b"upper,entry,lower\n4.47e2,,447.\n,,+260\n",
    ],
)
def test_as_spreadsheets_write_it(file: Path, content: bytes) -> None:
    """Byte-order mark, semicolons, CRLF, capitals, quotes, empty lines, any order of columns."""
    file.write_bytes(content)
    lives = lives_in(file).lives
    assert [[447, 260], [447, INF]] == [lives.lower.tolist(), lives.upper.tolist()]


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ("x,5,,,", "lower"),
        (",5,,,", "lower"),
        ("nan,5,,,", "lower"),
        ("5,inf,,,", "upper"),
        ("5,1e999,,,", "upper"),
        ("5,1_0,,,", "upper"),
        ('"1,5",2,,,', "lower"),
        ("0x10,20,,,", "lower"),
        ("٣,5,,,", "lower"),
        ("5,4,,,", "upper"),
        ("0,0,,,", "lower"),
        ("-1,5,,,", "lower"),
        ("5,6,7,,", "entry"),
        ("5,6,-1,,", "entry"),
        ("5,,,break,", "mode"),
        ("5,6,,br\x07ak,", "mode"),
        ("5,6,,,0", "count"),
        ("5,6,,,1.5", "count"),
        ("5,6,,,many", "count"),
        ("5,6,,,1e300", "count"),
        ("5,6,,,1000000001", "count"),
        ("1e300,,,,", "lower"),
        ("5,1e300,,,", "upper"),
        ("5,6,1e300,,", "entry"),
        ("150,150,149.9999999,,", "entry"),
        ("150,150.0000001,150,,", "entry"),
        ("10,10,9.999999999999998,,", "entry"),
        ("5,6,,,1,9", "row"),
    ],
)
def test_a_bad_row_is_named_with_its_column(file: Path, row: str, field: str) -> None:
    """The row as a spreadsheet counts it, the heading being row 1."""
    file.write_text(f"lower,upper,entry,mode,count\n5,6,,,\n{row}\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        lives_in(file)
    assert (3, field) in {(problem.row, problem.field) for problem in error.value.problems}


def test_a_life_followed_for_one_hole_is_read(file: Path) -> None:
    """Short, but possible; so are small ages in another unit, and very many alike."""
    file.write_text("lower,upper,entry,count\n20001,20001,20000,\n0.5,0.5,0.4,\n150,,149.9999999,\n5,6,5,1000000000\n")
    assert 1_000_000_003 == lives_in(file).lives.lives


def test_every_bad_row_is_named(file: Path) -> None:
    """All at once, in order, whether a cell cannot be read or makes no sense."""
    file.write_text("lower,upper,count\nx,5,1\n5,4,1\n5,,1\n5,,x\n")
    with pytest.raises(InputError) as error:
        lives_in(file)
    assert [2, 3, 5] == [problem.row for problem in error.value.problems]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b"lower,upper\n",
        b"lower\n5\n",
        b"lower,upper,colour\n5,6,red\n",
        b"lower,upper,lower\n5,6,5\n",
        b"lower,upper\n5,6\xff\n",
        bytes(range(256)) * 4,
        b"\x00" * 100,
        "lower,upper\n5,6".encode("utf-16"),
    ],
)
def test_what_is_no_table_is_refused(file: Path, content: bytes) -> None:
    """Empty, no rows, missing, unknown or doubled columns, no UTF-8, binary."""
    file.write_bytes(content)
    with pytest.raises(InputError):
        lives_in(file)


def test_no_such_file_is_refused(tmp_path: Path) -> None:
    """A missing file, or a folder."""
    for path in (tmp_path / "missing.csv", tmp_path):
        with pytest.raises(InputError, match="file"):
            lives_in(path)


def test_an_unknown_column_is_named(file: Path) -> None:
    """And the known ones are listed."""
    file.write_text("lower,upper,colour\n5,6,red\n")
    with pytest.raises(InputError, match=r"colour.*lower, upper, entry, mode, count"):
        lives_in(file)


def test_groups_are_told_apart(file: Path) -> None:
    """Tap type, material, ISO group and speed, as far as they are there; equal ones are one group."""
    file.write_text(
        "Tap Type,iso_group,material,speed,lower,upper\nM8,p,steel,10,5,5\nM8,N,brass,,6,\nM8,P,steel,10.0,7,7\n"
    )
    table = lives_in(file)
    assert (Condition("M8", "steel", IsoGroup.P, 10.0), Condition("M8", "brass", IsoGroup.N)) == table.conditions
    assert ([0, 1, 0], True) == (table.place.tolist(), table.is_grouped)


def test_without_groups_all_lives_are_of_one(file: Path) -> None:
    """Which has no name."""
    file.write_text("lower,upper\n5,5\n6,\n")
    table = lives_in(file)
    assert ((Condition("", ""),), False) == (table.conditions, table.is_grouped)


def test_depths_are_read(file: Path) -> None:
    """In mm; not a number where none is told, or where there is no such column."""
    file.write_text("lower,upper,depth\n5,5,12.5\n6,,\n")
    assert [12.5, math.nan] == pytest.approx(lives_in(file).depth_mm.tolist(), nan_ok=True)
    file.write_text("lower,upper\n5,5\n")
    assert math.isnan(lives_in(file).depth_mm[0])


@pytest.mark.parametrize("depth", ["0", "-4", "deep", "1001", "12mm"])
def test_bad_depths_are_named(file: Path, depth: str) -> None:
    """With row, and the unit that is right."""
    file.write_text(f"lower,upper,depth\n5,5,12\n6,6,{depth}\n")
    with pytest.raises(InputError, match=r"row 3, depth: .* in mm, above 0 and up to 1,000"):
        lives_in(file)


@pytest.mark.parametrize(
    ("cells", "field"),
    [("X,,", "iso group"), (",fast,", "speed"), (",0,", "speed"), (",1e4,", "speed"), (",,b\x07", "tap type")],
)
def test_bad_groups_are_named(file: Path, cells: str, field: str) -> None:
    """With row and column."""
    file.write_text(f"iso group,speed,tap type,lower,upper\nP,10,M8,5,6\n{cells},5,6\n")
    with pytest.raises(InputError) as error:
        lives_in(file)
    assert [(3, field)] == [(problem.row, problem.field) for problem in error.value.problems]


def test_too_many_groups_are_refused(file: Path) -> None:
    """Each takes time; hundreds mean that a column holds what tells no groups."""
    file.write_text("lower,upper,speed\n" + "".join(f"5,5,{0.1 * i}\n" for i in range(1, 300)))
    with pytest.raises(InputError, match="299 groups of tap type, material and speed; give at most 200"):
        lives_in(file)


@given(st.text(max_size=20))
def test_any_text_is_a_finite_number_or_none(text: str) -> None:
    """And what is taken as a number, Python reads as the same one."""
    number = number_in(text)
    assert number is None or (math.isfinite(number) and number == float(text))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_written_numbers_are_read(number: float) -> None:
    """Out and in is the identity."""
    assert number == number_in(repr(number))
