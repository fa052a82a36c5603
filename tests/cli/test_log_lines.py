"""The log of a server: a line each with time and level, nothing that people entered, and none that they could forge."""

from __future__ import annotations

import logging
import re
import threading
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.app import create_app
from shopfloor.cli import log_lines
from shopfloor.cli.log_lines import LineFormatter, written_in_lines
from shopfloor.core.errors import InputError
from shopfloor.web.crib import taps
from shopfloor.web.sync import views
from tests.cli.serving import LINE, run
from tests.factories import Shop, open_shop

Log = pytest.CaptureFixture[str]

MARK = "marked-4711"
FORGED = f"{MARK}\n2026-01-01T00:00:00.000Z ERROR shopfloor.web.errors all is well"


@pytest.fixture
def shop(sqlite_url: str, tmp_path: Path) -> Iterator[Shop]:
    """A small shop."""
    shop = open_shop(sqlite_url, tmp_path)
    yield shop
    shop.work.close()


@pytest.fixture
def log(capsys: pytest.CaptureFixture[str]) -> Iterator[pytest.CaptureFixture[str]]:
    """What is written to standard error while a server runs."""
    with written_in_lines():
        yield capsys


@pytest.fixture
def client(shop: Shop) -> FlaskClient:
    """A client of the shop's pages; its forms need no token."""
    app = create_app(shop.work)
    app.config.update(WTF_CSRF_ENABLED=False)
    return app.test_client()


def lines(log: Log) -> list[str]:
    """The lines so far, each of which has time, level and place, and holds nothing that was entered."""
    written = log.readouterr().err
    found = written.splitlines()
    assert [] == [line for line in found if not LINE.fullmatch(line)]
    assert MARK not in written
    return found


def fail(*_: Any, **__: Any) -> Any:
    """Fails as a library does that quotes what it was given."""
    try:
        raise LookupError(FORGED)
    except LookupError as error:
        raise ValueError(f"cannot read {FORGED}") from error


def test_what_the_database_was_given_is_not_told(shop: Shop, client: FlaskClient, log: Log) -> None:
    """A statement that fails in the middle of a run whose note is marked."""
    with shop.work.write() as session:
        session.connection().exec_driver_sql("DROP TABLE life_stretch")
    answer = client.post("/sync/runs", json=run(note=MARK, when=shop.clock().isoformat()))
    assert 503 == answer.status_code
    (line,) = lines(log)
    told = "shopfloor.web.errors database not reachable: OperationalError: no such table: life_stretch"
    assert f"ERROR {answer.headers['X-Request-Id']} {told}" in line


def test_the_unexpected_is_told_by_kind_and_place(
    shop: Shop, client: FlaskClient, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the number that the page shows, what it came from, and no word of what was entered."""
    monkeypatch.setattr(views, "log_run", fail)
    answer = client.post("/sync/runs", json=run(note=MARK, when=shop.clock().isoformat()))
    code = re.search(r"this tool: ([0-9a-f]{8})", answer.get_data(as_text=True))
    assert code is not None
    (line,) = lines(log)
    assert f" ERROR {code[1]} shopfloor.web.errors unexpected error at POST /sync/runs builtins.ValueError at " in line
    assert "cli/test_log_lines.py:" in line
    assert " <- builtins.LookupError at " in line


def test_an_address_is_not_told(shop: Shop, client: FlaskClient, log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    """It holds codes that somebody entered; the page is named instead."""
    monkeypatch.setattr(taps, "exact_code", fail)
    assert 500 == client.get(f"/crib/taps/{MARK}").status_code
    (line,) = lines(log)
    assert " at GET /crib/taps/<" in line


def test_other_libraries_tell_numbers_alone(log: Log) -> None:
    """Their messages stay, with what was put into them left out, and so do their exceptions."""
    logging.getLogger("waitress.queue").warning("Task queue depth is %d", 7)
    logging.getLogger("waitress").warning("Client disconnected while serving %s", f"/crib/taps/{FORGED}")
    try:
        fail()
    except ValueError:
        logging.getLogger("sqlalchemy.pool").exception("Exception during reset of %r", FORGED)
    depth, served, reset = lines(log)
    assert depth.endswith("WARNING - waitress.queue Task queue depth is 7")
    assert served.endswith("WARNING - waitress Client disconnected while serving ...")
    assert "Exception during reset of '...' builtins.ValueError at " in reset


def test_threads_and_warnings_are_told_in_lines(log: Log) -> None:
    """What else would go to standard error as it is."""
    thread = threading.Thread(target=fail)
    thread.start()
    thread.join()
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        logging.captureWarnings(capture=False)
        logging.captureWarnings(capture=True)
        warnings.warn(FORGED, RuntimeWarning, stacklevel=1)
    failed, warned = lines(log)
    assert "ERROR - shopfloor.cli.log_lines a thread failed builtins.ValueError at " in failed
    assert warned.endswith("RuntimeWarning")


def test_each_request_has_a_line_in_the_file(client: FlaskClient, tmp_path: Path) -> None:
    """Under the number that its answer bears, with the page and not the address; files of a page have none."""
    with written_in_lines(str(tmp_path / "logs")):
        numbers = []
        for address in (f"/crib/taps/{MARK}", "/static/x/css/tokens.css"):
            with client.get(address) as answer:
                numbers.append(answer.headers["X-Request-Id"])
        logging.getLogger("shopfloor").warning("after the requests")
    written = (tmp_path / "logs" / "serve.log").read_text(encoding="utf-8")
    asked, after = written.splitlines()
    assert re.fullmatch(rf"\S+ INFO {numbers[0]} shopfloor\.\S+ GET crib\.tap: 404 in \d+ ms", asked)
    assert re.fullmatch(r"\S+ WARNING - shopfloor after the requests", after)
    assert 2 == len(set(numbers))


def test_a_full_file_is_set_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The newest lines are in the file itself; of the full ones some are kept."""
    monkeypatch.setattr(log_lines, "LARGEST_FILE", 400)
    with written_in_lines(str(tmp_path)):
        for number in range(100):
            logging.getLogger("shopfloor").warning("line %d", number)
    files = sorted(path.name for path in tmp_path.iterdir())
    assert ["serve.log", *(f"serve.log.{n}" for n in range(1, log_lines.FILES_KEPT + 1))] == files
    assert (tmp_path / "serve.log").read_text(encoding="utf-8").endswith("line 99\n")


def test_a_folder_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    """Before the server starts."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError) as caught, written_in_lines(str(tmp_path / "file" / "logs")):
        pass
    assert ["SHOPFLOOR_LOG_FOLDER"] == [problem.field for problem in caught.value.problems]


@given(st.text(), st.sampled_from(["shopfloor.web", "waitress"]))
def test_one_message_is_one_line(text: str, name: str) -> None:
    """Whatever is in it."""
    record = logging.LogRecord(name, logging.ERROR, "", 1, "told: %s", (text,), None)
    told = LineFormatter().format(record)
    assert [told] == told.splitlines()
    assert told.isprintable()
