"""A shop's own log comes in on the first day: all rows or none, each problem with its row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from sqlalchemy import func, select

from seed.load import load
from seed.simulate import simulate
from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import TapState
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_export import export_runs, export_workbook
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.settings import Settings
from shopfloor.store import Incident, Job, Material, Run, Tap, TapLife, TapType
from shopfloor.store.upgrade import upgrade
from tests.conftest import BOTH
from tests.factories import NOON, Clock, Shop
from tests.services.conftest import ON_BOTH
from tests.services.logs import HEADING, LOG

WORK_ON_BOTH = pytest.mark.parametrize("work", BOTH, indirect=True)


@pytest.fixture
def work(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Work]:
    """A shop that has nothing yet, on SQLite where the test names no other."""
    url = request.getfixturevalue(f"{getattr(request, 'param', 'sqlite')}_url")
    work = Work.on(Settings(database=url, data_folder=tmp_path), Clock())
    yield work
    work.engine.dispose()


def bring_in(work: Work, folder: Path, text: str | bytes) -> tuple[int, int]:
    """Import the text as a file; (stored, there already)."""
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    done = import_runs(work, path)
    return done.stored, done.seen_before


def rows_of(work: Work) -> int:
    """Runs stored."""
    with work.read() as session:
        return session.scalar(select(func.count()).select_from(Run)) or 0


def told(work: Work, folder: Path, text: str | bytes) -> str:
    """What a bad file is told; nothing may be stored by it."""
    before = rows_of(work)
    with pytest.raises(InputError) as caught:
        bring_in(work, folder, text)
    assert rows_of(work) == before
    return str(caught.value)


@WORK_ON_BOTH
def test_a_hand_written_log_comes_into_an_empty_database(work: Work, tmp_path: Path) -> None:
    """Seven columns are enough; unknown taps, types and materials are created and listed."""
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    done = import_runs(work, path)
    assert (4, 0) == (done.stored, done.seen_before)
    created = {"tap type": ["1/2-13 spiral point", "M8 forming"], "tap": ["A1", "A2"]}
    assert {**created, "material": ["mild steel", "aluminium"]} == done.created
    with work.read() as session:
        assert "1/2-13" == session.scalar(select(TapType.thread).where(TapType.code == "1/2-13 spiral point"))
        life = session.scalars(select(TapLife).join(Tap, Tap.id == TapLife.tap_id).where(Tap.code == "A1")).one()
        assert (108, 96, 108, TapState.BROKEN) == (life.holes, life.lower, life.upper, life.state)


@WORK_ON_BOTH
def test_the_same_file_twice_is_stored_once(work: Work, tmp_path: Path) -> None:
    """Two equal rows in one file are two runs; the same file again is none."""
    assert [(4, 0), (0, 4)] == [bring_in(work, tmp_path, LOG) for _ in range(2)]


def test_a_longer_file_adds_only_what_is_new(work: Work, tmp_path: Path) -> None:
    """Tomorrow's copy of the same spreadsheet brings tomorrow's rows."""
    bring_in(work, tmp_path, LOG)
    assert (1, 4) == bring_in(work, tmp_path, LOG + "2026-05-06,A2,M8 forming,aluminium,400,30,still good\n")


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + LOG,
        LOG.replace("\n", "\r\n"),
        LOG.replace(",", ";"),
        LOG.replace(",", "\t"),
        LOG.replace("when", "When").replace("tap type", "Tap_Type"),
        LOG.replace("good\n", "good\n\n", 1),
    ],
)
def test_as_spreadsheets_write_it(work: Work, tmp_path: Path, text: str) -> None:
    """Byte-order mark, any line end, any separator, any case, empty lines."""
    assert (4, 0) == bring_in(work, tmp_path, text)


def test_every_problem_is_told_with_row_and_column(work: Work, tmp_path: Path) -> None:
    """All rows are checked, none is stored."""
    bad = f"{HEADING}\n2026-05-04,A1,x,steel,250,0,good\n2027-01-01,,x,steel,fast,48,gone\n"
    message = told(work, tmp_path, bad)
    for part in ("row 2, holes", "row 3, when", "row 3, tap:", "row 3, rpm", "row 3, tap end"):
        assert part in message


def test_a_run_after_a_break_is_told_with_its_row(work: Work, tmp_path: Path) -> None:
    """The file contradicts itself: the row of the run that cannot be is named."""
    more = "2026-05-06,A1,1/2-13 spiral point,mild steel,250,9,good\n"
    message = told(work, tmp_path, LOG + more)
    assert "row 6, tap: the log says it was broken before this run; give another or a reground tap a code" in message


def test_a_tap_has_one_type(work: Work, tmp_path: Path) -> None:
    """The same code under two types is a slip of the pen."""
    assert "row 6, tap type: tap A2 is logged as M8 forming" in told(
        work, tmp_path, LOG + "2026-05-06,A2,M10 forming,aluminium,400,9,good\n"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        (HEADING + "\n", "no rows"),
        ("a,b\n1,2\n", "no such column"),
        (LOG.replace("rpm,", ""), "the column is missing"),
        (LOG.replace("when,", "when,when,"), "occurs twice"),
        (LOG.encode("utf-16"), "not UTF-8"),
        (LOG.replace("mild", "m\u00eflde").encode("latin-1"), "not UTF-8"),
        (bytes(range(256)), "not UTF-8"),
        (LOG.replace("A2,", 'A2"x,"'), "log.csv is not a CSV file"),
        (LOG.replace("30,still good", "30,still good,9,9"), "it has 9 cells"),
        (LOG.replace("A2", "A\x002"), "cannot be stored"),
    ],
)
def test_files_that_are_no_log(work: Work, tmp_path: Path, text: str | bytes, message: str) -> None:
    """Each is refused in words, and nothing is stored."""
    assert message in told(work, tmp_path, text)


def test_files_that_are_not_there(work: Work, tmp_path: Path) -> None:
    """A wrong name or a folder is refused in words."""
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError, match="file: "):
            import_runs(work, path)


def test_holes_before_and_causes_come_in(work: Work, tmp_path: Path) -> None:
    """A number, 'unknown' or nothing; the cause of a break makes an incident."""
    bring_in(
        work,
        tmp_path,
        f"{HEADING},holes before,cause,job,thread\n"
        "2026-05-04,A1,spiral,steel,250,48,broken,150,chips packed,P-7,M8\n"
        "2026-05-04,A2,spiral,steel,250,48,good,unknown,,P-7,\n"
        "2026-05-04,A3,spiral,steel,250,48,good,,,P-7,\n",
    )
    with work.read() as session:
        before = {tap.code: tap.holes_before for tap in session.scalars(select(Tap))}
        assert {"A1": 150, "A2": None, "A3": 0} == before
        assert 1 == session.scalar(select(func.count()).select_from(Incident))
        assert ["P-7"] == list(session.scalars(select(Job.code)))
        assert "M8" == session.scalar(select(TapType.thread))


@ON_BOTH
def test_out_and_in_again_is_the_same(shop: Shop, tmp_path: Path) -> None:
    """What export writes, import reads: every run is known already."""
    bring_in(shop.work, tmp_path, LOG.replace("12,broken", "12,broken"))
    out = io.StringIO()
    assert 4 == export_runs(shop.work, out)
    assert (0, 4) == bring_in(shop.work, tmp_path, out.getvalue())


def test_a_workbook_brings_the_same_runs_as_csv(work: Work, tmp_path: Path) -> None:
    """With dates and numbers as a sheet keeps them: a run that came one way is known when it comes the other."""
    book, rows = Workbook(), list(csv.reader(io.StringIO(LOG)))
    sheet = book.active
    assert sheet is not None
    sheet.append(rows[0])
    for when, *words, rpm, holes, ended in rows[1:]:
        sheet.append([date.fromisoformat(when), *words, int(rpm), float(holes), ended])
    book.save(tmp_path / "log.xlsx")
    done = import_runs(work, tmp_path / "log.xlsx")
    assert (4, 0) == (done.stored, done.seen_before)
    assert (0, 4) == bring_in(work, tmp_path, LOG)


def test_out_as_a_workbook_and_in_again_is_the_same(work: Work, tmp_path: Path) -> None:
    """Each run is known already."""
    bring_in(work, tmp_path, LOG)
    with (tmp_path / "log.xlsx").open("wb") as out:
        assert 4 == export_workbook(work, out)
    done = import_runs(work, tmp_path / "log.xlsx")
    assert (0, 4) == (done.stored, done.seen_before)


def test_export_defuses_formulas(work: Work, tmp_path: Path) -> None:
    """A cell that a spreadsheet would run is written as text."""
    bring_in(work, tmp_path, f"{HEADING},note\n2026-05-04,A1,x M8,steel,250,48,good,=1+1\n")
    out = io.StringIO()
    export_runs(work, out)
    (row,) = csv.DictReader(io.StringIO(out.getvalue()))
    assert "'=1+1" == row["note"]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(max_size=300) | st.text(max_size=300).map(lambda text: (HEADING + "\n" + text).encode("utf-8", "ignore"))
)
def test_any_bytes_are_read_or_refused(sqlite_shop: Shop, tmp_path: Path, content: bytes) -> None:
    """No file brings the import down."""
    try:
        stored, _ = bring_in(sqlite_shop.work, tmp_path, content)
    except InputError as error:
        stored = 0
        refused = str(error)
    assert stored > 0 or refused


def test_materials_keep_their_group(work: Work, tmp_path: Path) -> None:
    """The optional ISO 513 group is stored with a new material."""
    bring_in(work, tmp_path, f"{HEADING},iso group\n2026-05-04,A1,x M8,brass,250,48,good,N\n")
    with work.read() as session:
        assert "N" == session.scalars(select(Material.iso_group)).one().value  # type: ignore[union-attr]


def test_a_copy_in_another_database_tells_the_same_breaks(sqlite_url: str, tmp_path: Path) -> None:
    """Holes before and regrinds survive the way out and in. (Wear found by a gauge does not: files hold runs only.)"""
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path), Clock())
    load(work, simulate(NOON, months=4))
    out = io.StringIO()
    export_runs(work, out)
    url = f"sqlite:///{(tmp_path / 'copy.sqlite').as_posix()}"
    upgrade(url)
    copy = Work.on(replace(work.settings, database=url), work.clock)
    bring_in(copy, tmp_path, out.getvalue())
    breaks = [_broken_lives(one) for one in (work, copy)]
    for one in (work, copy):
        one.engine.dispose()
    assert len(breaks[0]) > 5
    assert breaks[0] == breaks[1]


def _broken_lives(work: Work) -> list[tuple[int | None, ...]]:
    """Entry and limits of every life that ended by a break; None where it cannot be used."""
    with work.read() as session:
        broken = select(TapLife.entry, TapLife.lower, TapLife.upper).where(TapLife.state == TapState.BROKEN)
        return sorted((tuple(row) for row in session.execute(broken)), key=str)
