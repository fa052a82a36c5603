"""The CSV files and the truth file."""

from __future__ import annotations

import csv
import json
import uuid
from datetime import date, datetime
from pathlib import Path

import pytest

from seed.__main__ import main, reference_moment
from seed.export import write_files
from seed.simulate import DEFAULT_ZONE, Scenario, simulate
from shopfloor.core.vocabulary import MovementKind, TapEnd

COMMITTED = Path(__file__).resolve().parents[2] / "seed" / "csv"
COMMITTED_FOR = date(2026, 11, 25)
RUN_COLUMNS = (
    "id,when,device time,person,station,job,tap,tap type,thread,material,rpm,holes,cutting slips,depth control,"
    "lubricant,tap end,broke at hole,part fate,note,batch"
)


@pytest.fixture(scope="module")
def folder(scenario: Scenario, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The scenario's files."""
    place = tmp_path_factory.mktemp("files") / "made" / "on demand"
    write_files(scenario, place)
    return place


def rows_of(path: Path) -> list[dict[str, str]]:
    """A CSV file's rows by heading."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_committed_files_are_what_the_simulator_makes(tmp_path: Path) -> None:
    """Run `python -m seed --out seed/csv --today 2026-11-25` after changing the simulator."""
    write_files(simulate(reference_moment(COMMITTED_FOR)), tmp_path)
    assert {path.name for path in COMMITTED.iterdir()} == {path.name for path in tmp_path.iterdir()}
    for path in tmp_path.iterdir():
        assert path.read_text("utf-8") == (COMMITTED / path.name).read_text("utf-8"), path.name


def test_runs_have_the_columns_that_the_tool_brings_in(folder: Path) -> None:
    """The order is part of the format."""
    assert RUN_COLUMNS == (folder / "runs.csv").read_text("utf-8").partition("\n")[0]


def test_the_runs_file_holds_the_runs_that_stand(scenario: Scenario, folder: Path) -> None:
    """Row by row: id, time with its offset, holes, end, and the break hole or nothing."""
    for run, row in zip(scenario.standing_runs(), rows_of(folder / "runs.csv"), strict=True):
        assert run.id == uuid.UUID(row["id"])
        assert run.ended_at == datetime.fromisoformat(row["when"])
        assert (run.holes, run.tap_end) == (int(row["holes"]), TapEnd(row["tap end"]))  # type: ignore[call-arg]
        assert ("" if run.broke_at_hole is None else str(run.broke_at_hole)) == row["broke at hole"]


def test_a_code_in_the_files_names_one_life(folder: Path) -> None:
    """A reground tap carries a mark, so no row follows one that says the tap has ended."""
    ended: set[str] = set()
    for row in rows_of(folder / "runs.csv"):
        assert row["tap"] not in ended
        if row["tap end"] != "still good":
            ended.add(row["tap"])


def test_every_marked_tap_is_listed_with_its_regrinds(scenario: Scenario, folder: Path) -> None:
    """One row a life; the number after the mark counts the regrinds."""
    taps = rows_of(folder / "taps.csv")
    reground = sum(movement.kind is MovementKind.REGROUND for movement in scenario.movements)
    assert len(scenario.taps) + reground == len(taps)
    assert {row["tap"] for row in rows_of(folder / "runs.csv")} <= {row["code"] for row in taps}
    assert all(row["code"].endswith(f"-R{row['regrinds']}") for row in taps if row["regrinds"] != "0")


def test_an_unknown_past_is_not_none(folder: Path) -> None:
    """Nobody knows is written as a word; new taps have 0."""
    before = {row["holes before"] for row in rows_of(folder / "taps.csv")}
    assert {"unknown", "0"} < before
    assert "" not in before


def test_corrections_show_first_and_right_value(folder: Path) -> None:
    """The right value is the one that stands in the runs."""
    runs = {row["id"]: row for row in rows_of(folder / "runs.csv")}
    for row in rows_of(folder / "corrections.csv"):
        assert row["corrected value"] == runs[row["run"]][row["column"]]
        assert row["first value"] != row["corrected value"]
        assert row["first logged as"] not in runs


def test_the_truth_file_knows_every_condition_of_the_log(folder: Path) -> None:
    """Whoever fits a group of the log finds the true lives beside it, as finite numbers."""
    truth = json.loads((folder / "truth.json").read_text("utf-8"))
    known = {(row["tap type"], row["material"], row["station"], row["rpm"]) for row in truth["conditions"]}
    runs = rows_of(folder / "runs.csv")
    assert known == {(row["tap type"], row["material"], row["station"], int(row["rpm"])) for row in runs}
    assert all(0 < row[mode][name] for row in truth["conditions"] for mode in ("break", "wear") for name in row[mode])


def test_a_reference_date_stands_for_its_first_moment() -> None:
    """The log for a date ends with the last shift before it, so that it can be brought in on that day."""
    assert datetime(2026, 11, 25, tzinfo=DEFAULT_ZONE) == reference_moment(COMMITTED_FOR)
    assert all(row["when"] < "2026-11-25" for row in rows_of(COMMITTED / "runs.csv"))


def test_the_command_writes_the_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It says how many and where, and ends well."""
    with pytest.raises(SystemExit) as ended:
        main(["--out", str(tmp_path / "new"), "--today", "2026-11-25", "--months", "1"])
    assert 0 == ended.value.code
    assert 13 == len(list((tmp_path / "new").iterdir()))
    assert "13 files" in capsys.readouterr().err


def test_the_command_refuses_what_is_no_date(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bad usage ends with code 2 and names the option."""
    with pytest.raises(SystemExit) as ended:
        main(["--out", str(tmp_path), "--today", "tomorrow"])
    assert 2 == ended.value.code
    assert "--today" in capsys.readouterr().err
