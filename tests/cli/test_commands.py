"""The command line: what each command does and what bad use is told, with exit code 2."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from shopfloor.cli import _COMMANDS, main
from shopfloor.cli.server import Server
from shopfloor.services.crib.board import board
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from tests.cli.serving import free_port
from tests.kept import copied
from tests.services.logs import LOG


def run(*arguments: str) -> Result:
    """The command line with these arguments."""
    return CliRunner().invoke(main, arguments, catch_exceptions=False)


@pytest.mark.parametrize("command", [(), *((name,) for name in _COMMANDS), ("runs", "import"), ("runs", "export")])
def test_help_everywhere(command: tuple[str, ...]) -> None:
    """Every command explains itself."""
    result = run(*command, "--help")
    assert (0, True) == (result.exit_code, "Usage:" in result.output)


def test_a_log_comes_in_and_out(empty_sqlite_url: str, tmp_path: Path) -> None:
    """Import on a database that does not exist yet, then export."""
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    result = run("runs", "import", str(path), "--database", empty_sqlite_url)
    assert 0 == result.exit_code
    assert "Stored 4 runs; 0 were already there." in result.output
    assert "New tap (2): A1, A2" in result.output
    out = tmp_path / "out.csv"
    assert 0 == run("runs", "export", "--output", str(out), "--database", empty_sqlite_url).exit_code
    assert 5 == len(out.read_text(encoding="utf-8").splitlines())


def test_a_log_goes_out_as_a_workbook_and_comes_in(empty_sqlite_url: str, tmp_path: Path) -> None:
    """The name's ending says what is written; what comes in is told by its content."""
    path, out = tmp_path / "log.csv", tmp_path / "out.XLSX"
    path.write_text(LOG, encoding="utf-8")
    run("runs", "import", str(path), "--database", empty_sqlite_url)
    assert 0 == run("runs", "export", "--output", str(out), "--database", empty_sqlite_url).exit_code
    assert b"PK" == out.read_bytes()[:2]
    assert (
        "Stored 0 runs; 4 were already there." in run("runs", "import", str(out), "--database", empty_sqlite_url).output
    )


def test_a_server_refuses_a_port_that_is_taken(empty_sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before anything else; once it is free, it serves."""
    told: list[str] = []
    monkeypatch.setattr("shopfloor.cli.serve.run_server", lambda *_: told.append("served"))
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        refused = run("serve", "--no-estimator", "--database", empty_sqlite_url, "--port", port)
    assert (2, []) == (refused.exit_code, told)
    assert f"port: {port}" in refused.stderr
    result = run("serve", "--no-estimator", "--database", empty_sqlite_url, "--port", port)
    assert (0, ["served"]) == (result.exit_code, told)


def test_a_server_says_under_which_names_it_serves(empty_sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its own and those of the setting, with the setting's name."""

    def at_once(server: Server) -> None:
        server.stop()
        server.run()

    monkeypatch.setattr("shopfloor.cli.serve.serve_until_told", at_once)
    monkeypatch.setenv("SHOPFLOOR_HOSTS", "shop.example")
    result = run("serve", "--no-estimator", "--database", empty_sqlite_url, "--port", str(free_port()))
    assert 0 == result.exit_code
    assert re.search(r"the names localhost, .*shop\.example; SHOPFLOOR_HOSTS adds others", result.output)


def test_estimates_are_worked_out(empty_sqlite_url: str, tmp_path: Path) -> None:
    """Each time a new generation, also of a log that no page would have to wait for; pages name its time."""
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    run("runs", "import", str(path), "--database", empty_sqlite_url)
    for number in (1, 2):
        done = run("estimate", "--database", empty_sqlite_url)
        assert (0, f"Done: generation {number}.") == (done.exit_code, done.output.splitlines()[-1])
    work = Work.on(Settings(database=empty_sqlite_url, data_folder=tmp_path))
    as_of = [tap.outlook.as_of is not None for tap in board(work).taps if tap.next_batch]
    work.close()
    assert as_of
    assert all(as_of)


def test_estimates_of_a_mistyped_database_are_refused(tmp_path: Path) -> None:
    """No empty record is made in its place."""
    done = run("estimate", "--database", f"sqlite:///{(tmp_path / 'nowhere.db').as_posix()}")
    assert 2 == done.exit_code
    assert not (tmp_path / "nowhere.db").exists()


def test_bad_rows_go_to_standard_error_with_code_2(empty_sqlite_url: str, tmp_path: Path) -> None:
    """Row and column are named; the list is cut, and says how much is left out."""
    path = tmp_path / "log.csv"
    path.write_text(LOG + "2026-05-06,A2,M8 forming,aluminium,400,0,good\n" * 30, encoding="utf-8")
    result = run("runs", "import", str(path), "--database", empty_sqlite_url)
    assert 2 == result.exit_code
    assert "Error: row 6, holes: 0 is out of range" in result.stderr
    assert "and 10 more problems" in result.stderr
    assert "" == result.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ("unknown",),
        ("runs",),
        ("runs", "import"),
        ("runs", "import", "none.csv"),
        ("serve", "--port", "99999"),
        ("serve", "--database", "nonsense"),
        ("upgrade", "--database", "sqlite:////no/such/folder/x.db"),
        ("rebuild", "--nonsense"),
    ],
)
def test_bad_use_ends_with_code_2(arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never a traceback."""
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert (2, "") == (result.exit_code, "" if arguments == ("runs",) else result.stdout)


@pytest.mark.postgres
def test_the_demo_is_made_on_postgresql(empty_postgresql_url: str) -> None:
    """As many runs come out again as in the demo of the browser tests, which is on SQLite."""
    assert 0 == run("demo", "--no-serve", "--database", empty_postgresql_url).exit_code
    result = run("runs", "export", "--database", empty_postgresql_url)
    assert 3000 < len(result.stdout.splitlines())


def test_the_demo_is_made_anew(demo_database: Path, tmp_path: Path) -> None:
    """Over a demo that is there already."""
    url = copied(demo_database, tmp_path / "demo.sqlite")
    assert 0 == run("demo", "--no-serve", "--database", url).exit_code
    result = run("runs", "export", "--database", url)
    assert 3000 < len(result.stdout.splitlines())


def test_the_demo_never_replaces_a_shops_record(sqlite_url: str) -> None:
    """A database that holds something other than a demo is refused."""
    result = run("demo", "--no-serve", "--database", sqlite_url)
    assert (2, True) == (result.exit_code, "something other than a demo" in result.stderr)


def test_rebuild_and_upgrade(sqlite_url: str) -> None:
    """Both can be run at any time."""
    assert "0 taps" in run("rebuild", "--database", sqlite_url).output
    assert "up to date" in run("upgrade", "--database", sqlite_url).output


@pytest.mark.parametrize("command", [("rebuild",), ("runs", "export"), ("runs", "export", "--output", "out.csv")])
def test_a_mistyped_path_makes_no_database(
    command: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A command that only works on a record names the path that is not there, and leaves no file behind."""
    monkeypatch.chdir(tmp_path)
    result = run(*command, "--database", "sqlite:///shopflor.db")
    assert (2, "") == (result.exit_code, result.stdout)
    assert f"there is no file {tmp_path / 'shopflor.db'}; check the path" in result.stderr
    assert [] == list(tmp_path.iterdir())


def test_as_a_program(tmp_path: Path) -> None:
    """`python -m shopfloor` keeps streams and exit codes apart, whatever the current folder."""
    environment = {**os.environ, "PYTHONWARNINGS": "error"}
    program = [sys.executable, "-m", "shopfloor", "rate", "3", "1000", "--level", "0.9", "--json"]
    done = subprocess.run(program, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert (0, "") == (done.returncode, done.stderr)
    assert 3.0 == json.loads(done.stdout)["per_1000"]
