"""A file that was corrected and comes in again counts no run twice, and a further run is still a run."""

from __future__ import annotations

import io
import uuid
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from shopfloor.cli.runs import command
from shopfloor.core.errors import InputError
from shopfloor.services.runs.csv_export import export_runs
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run
from shopfloor.store import Run
from shopfloor.store.queries.log import counts
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

HEADING = "when,tap,tap type,material,rpm,holes,tap end,station,job,person"
ROWS = (
    "2026-05-04T08:00,A1,M8 SP,steel,250,49,still good,arm,J1,ada",
    "2026-05-04T09:00,A1,M8 SP,steel,250,50,still good,arm,J1,ada",
    "2026-05-04T09:00,A1,M8 SP,steel,250,30,still good,arm,J1,ada",
    "2026-05-05,A2,M8 SP,steel,250,40,still good,,,",
)


def bring_in(shop: Shop, folder: Path, *rows: str) -> tuple[int, int]:
    """Import rows as a file; (stored, there already)."""
    path = folder / "log.csv"
    path.write_text("\n".join((HEADING, *rows)) + "\n", encoding="utf-8")
    done = import_runs(shop.work, path)
    return done.stored, done.seen_before


def refused(shop: Shop, folder: Path, *rows: str) -> list[str]:
    """What such a file is told; nothing is stored."""
    before = holes(shop)
    with pytest.raises(InputError) as caught:
        bring_in(shop, folder, *rows)
    assert before == holes(shop)
    return [problem.sentence() for problem in caught.value.problems]


def holes(shop: Shop) -> int:
    """Holes of all runs that count."""
    with shop.work.read() as session:
        return session.scalar(select(func.sum(Run.holes)).where(counts(Run))) or 0


def runs(shop: Shop) -> list[uuid.UUID]:
    """Runs that count, the oldest first."""
    with shop.work.read() as session:
        return list(session.scalars(select(Run.id).where(counts(Run)).order_by(Run.ended_at, Run.position)))


@ON_BOTH
def test_a_corrected_row_is_refused_with_the_run_that_it_would_double(shop: Shop, tmp_path: Path) -> None:
    """Row, tap, holes, time and id of the stored run, and what to do."""
    bring_in(shop, tmp_path, *ROWS)
    told = refused(shop, tmp_path, ROWS[0].replace(",49,", ",50,"), *ROWS[1:])
    expected = (
        "row 2, when: it would count a run twice: A1 made 49 holes at that time, station and job (2026-05-04 08:00, "
        f"stored as {runs(shop)[0]}), and no row of the file says so any more; restore the row and correct "
        "the run among its station's entries; if both runs were made, keep both rows"
    )
    assert [expected] == told


def test_the_command_says_so(shop: Shop, tmp_path: Path) -> None:
    """`runs import` asks the same service: nothing is stored, and the exit tells it."""
    bring_in(shop, tmp_path, *ROWS)
    path = tmp_path / "log.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",49,", ",50,"), encoding="utf-8")
    result = CliRunner().invoke(command, ["import", str(path), "--database", shop.work.settings.database])
    assert isinstance(result.exception, InputError)
    assert 169 == holes(shop)


@ON_BOTH
def test_one_of_two_equal_rows_is_known_too(shop: Shop, tmp_path: Path) -> None:
    """Two runs of one minute: whichever is changed in the file, it is the other row that is still there."""
    bring_in(shop, tmp_path, ROWS[1], ROWS[1])
    assert 1 == len(refused(shop, tmp_path, ROWS[1].replace(",50,", ",51,"), ROWS[1]))


def test_a_row_without_station_and_job_is_known_too(shop: Shop, tmp_path: Path) -> None:
    """What was not written down is the same where it is missing in both."""
    bring_in(shop, tmp_path, *ROWS)
    told = refused(shop, tmp_path, *ROWS[:3], ROWS[3].replace(",40,", ",41,"))
    assert ["row 5, when: it would count a run twice: A2 made 40 holes"] == [line[:57] for line in told]


def test_a_file_with_two_runs_of_one_minute_comes_in(shop: Shop, tmp_path: Path) -> None:
    """The same tap, time, station and job twice in one file are two runs, also beside one that is stored."""
    assert (2, 0) == bring_in(shop, tmp_path, ROWS[1], ROWS[2])
    assert (1, 2) == bring_in(shop, tmp_path, ROWS[1], ROWS[2], ROWS[2])
    assert 110 == holes(shop)


def test_other_times_stations_and_jobs_are_other_runs(shop: Shop, tmp_path: Path) -> None:
    """Only a run of the same tap, time, station and job is taken for the stored one."""
    bring_in(shop, tmp_path, ROWS[0])
    others = (
        ROWS[0].replace("08:00", "08:01"),
        ROWS[0].replace("arm", "air").replace(",250,", ",350,"),
        ROWS[0].replace("J1", ""),
        ROWS[0].replace("A1", "A2"),
    )
    assert (4, 0) == bring_in(shop, tmp_path, *others)


def test_a_run_that_was_corrected_at_its_station_stays_so(shop: Shop, tmp_path: Path) -> None:
    """The old file brings nothing back; a file corrected likewise would count it twice and is refused."""
    bring_in(shop, tmp_path, *ROWS)
    with shop.work.read() as session:
        old = session.get_one(Run, runs(shop)[0])
        entry = shop.entry(ended_at=old.ended_at, tap="A1", holes=50)
    correct_run(shop.work, old.id, entry, "miscounted", "bo")
    assert (0, 4) == bring_in(shop, tmp_path, *ROWS)
    assert 1 == len(refused(shop, tmp_path, ROWS[0].replace(",49,", ",50,"), *ROWS[1:]))
    assert 170 == holes(shop)


def test_a_cancelled_run_makes_room_for_the_right_one(shop: Shop, tmp_path: Path) -> None:
    """What counts no longer cannot be counted twice."""
    bring_in(shop, tmp_path, *ROWS)
    cancel_run(shop.work, runs(shop)[0], "miscounted", "bo")
    assert (1, 3) == bring_in(shop, tmp_path, ROWS[0].replace(",49,", ",50,"), *ROWS[1:])
    assert 170 == holes(shop)


def test_an_export_that_was_edited_is_refused(shop: Shop, tmp_path: Path) -> None:
    """With its id a changed row contradicts the stored run, without it would double that; no new id is advised."""
    bring_in(shop, tmp_path, *ROWS)
    out = io.StringIO()
    export_runs(shop.work, out)
    heading, first, *rest = out.getvalue().splitlines()
    changed, anonymous = first.replace(",49,", ",50,"), first.replace(",49,", ",50,").replace(str(runs(shop)[0]), "")
    path = tmp_path / "log.csv"
    for line, words in ((changed, "another run is stored under it (it differs in: holes)"), (anonymous, "count a run")):
        path.write_text("\n".join((heading, line, *rest)) + "\n", encoding="utf-8")
        with pytest.raises(InputError) as caught:
            import_runs(shop.work, path)
        assert words in str(caught.value)
        assert "restore the row" in str(caught.value)
    assert 169 == holes(shop)


def test_two_tablets_may_log_the_same_minute(shop: Shop) -> None:
    """What people log is never taken for another's run: only a file can be an old one that was edited."""
    entry = shop.entry()
    assert log_run(shop.work, entry).is_new
    assert log_run(shop.work, replace(entry, id=uuid.uuid4())).is_new


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(st.integers(0, 2), st.integers(1, 3), st.integers(1, 3)), min_size=1, max_size=6),
    st.data(),
)
def test_no_edited_file_ever_adds_a_run(
    sqlite_shop: Shop, tmp_path: Path, log: list[tuple[int, int, int]], data: st.DataObject
) -> None:
    """Whatever log came in: with the holes of one row changed it comes in as it was, or not at all."""
    tap = uuid.uuid4().hex[:12]
    rows = [
        f"2026-05-04T0{hour}:00,{tap}-{number},M8 SP,steel,250,{made},still good,arm,J1,ada"
        for hour, number, made in log
    ]
    bring_in(sqlite_shop, tmp_path, *rows)
    before = holes(sqlite_shop)
    place = data.draw(st.integers(0, len(rows) - 1))
    edited = [*rows]
    edited[place] = rows[place].replace(f",250,{log[place][2]},", f",250,{data.draw(st.integers(1, 5))},")
    if sorted(edited) == sorted(rows):
        assert (0, len(rows)) == bring_in(sqlite_shop, tmp_path, *edited)
    else:
        assert 1 <= len(refused(sqlite_shop, tmp_path, *edited))
    assert before == holes(sqlite_shop)
