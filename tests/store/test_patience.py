"""A PostgreSQL that stands still keeps nobody waiting without end, nor one after the other."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import nullcontext, suppress
from pathlib import Path

import pytest
from sqlalchemy import make_url, text
from sqlalchemy.exc import OperationalError

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import engine as engine_module
from shopfloor.store import patience
from shopfloor.store.engine import make_engine
from shopfloor.store.patience import COMMANDS, PAGES, Patience

LONG_S = 60
PAGES_FAIL_S = 5
WITHOUT_RECORD = (200, 302, 303, 503)
"""What may be answered where the record cannot be asked."""

pytestmark = pytest.mark.postgres


class Line:
    """A line to a database that can be made to stand still: what is said on it waits, nothing is hung up."""

    def __init__(self, url: str) -> None:
        self._address = make_url(url)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._flows = threading.Event()
        self._flows.set()
        self.calls = 0
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def url(self) -> str:
        """The database's address by this line."""
        port = self._listener.getsockname()[1]
        by_line = self._address.set(host="127.0.0.1", port=port, query={})
        return by_line.render_as_string(hide_password=False)

    def stand_still(self) -> None:
        """Carry nothing from now on."""
        self._flows.clear()

    def flow(self) -> None:
        """Carry what waited, and go on."""
        self._flows.set()

    def close(self) -> None:
        """Hang up."""
        self.flow()
        self._listener.close()

    def _listen(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                self.calls += 1
                far = self._connected()
                for source, goal in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=[source, goal], daemon=True).start()

    def _connected(self) -> socket.socket:
        where = str(self._address.query.get("host") or self._address.host)
        if not where.startswith("/"):
            return socket.create_connection((where, self._address.port or 5432))
        made = socket.socket(socket.AF_UNIX)
        made.connect(f"{where}/.s.PGSQL.{self._address.query.get('port') or self._address.port or 5432}")
        return made

    def _carry(self, source: socket.socket, goal: socket.socket) -> None:
        with suppress(OSError), source, goal:
            while said := source.recv(65_536):
                self._flows.wait()
                goal.sendall(said)


@pytest.fixture
def line(postgresql_url: str) -> Iterator[Line]:
    """A line to a migrated database."""
    line = Line(postgresql_url)
    yield line
    line.close()


@pytest.fixture
def in_haste(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shorter limits, so that a test need not wait for the long ones; the rest is long enough to be seen."""
    monkeypatch.setattr(patience, "PAGES", Patience(connect=2, lock=1, statement=1, answer=1))
    monkeypatch.setattr(patience, "REST_S", 1)


@pytest.mark.usefixtures("in_haste")
def test_a_server_that_stands_still_is_given_up(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    """First on the open connection, then for all who ask, who are refused without a call."""
    monkeypatch.setattr(patience, "REST_S", LONG_S)
    engine = make_engine(line.url, for_pages=True)
    with engine.connect() as connection:
        assert 1 == connection.scalar(text("SELECT 1"))
        line.stand_still()
        with pytest.raises(OperationalError, match="nothing was heard"):
            connection.scalar(text("SELECT 2"))
    with pytest.raises(OperationalError, match="did not answer a moment ago"):
        engine.connect()
    assert 1 == line.calls
    engine.dispose()


@pytest.mark.usefixtures("in_haste")
def test_a_server_that_answers_again_is_found(line: Line) -> None:
    """A little later somebody tries again."""
    engine = make_engine(line.url, for_pages=True)
    line.stand_still()
    with pytest.raises(OperationalError):
        engine.connect()
    line.flow()
    assert answers(engine)
    engine.dispose()


def answers(engine: object) -> bool:
    """Whether the database is found again, if it is waited for."""
    ends_at = time.monotonic() + LONG_S
    while time.monotonic() < ends_at:
        with suppress(OperationalError), engine.connect() as connection:  # type: ignore[attr-defined]
            return bool(connection.scalar(text("SELECT 1")))
        time.sleep(0.1)
    return False


@pytest.mark.usefixtures("in_haste")
def test_pages_say_so_and_the_clock_goes_on(line: Line, tmp_path: Path) -> None:
    """503 in words, at the second page at once; what needs no record is answered as ever."""
    work = Work.on(Settings(database=line.url, data_folder=tmp_path), for_pages=True)
    client = create_app(work).test_client()
    assert 200 == client.get("/setup/people").status_code
    line.stand_still()
    for _ in range(3):
        answer = client.get("/setup/people")
        assert (503, True) == (answer.status_code, "The database cannot be reached" in answer.text)
    assert 503 == client.get("/healthz").status_code
    assert 200 == client.get("/sync/clock").status_code
    line.flow()
    work.close()


@pytest.mark.usefixtures("in_haste")
def test_every_page_says_so_or_needs_no_record(line: Line, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first one waits, all others are answered without a call."""
    monkeypatch.setattr(patience, "REST_S", LONG_S)
    work = Work.on(Settings(database=line.url, data_folder=tmp_path), for_pages=True)
    app = create_app(work)
    client = app.test_client()
    assert 200 == client.get("/setup/people").status_code
    line.stand_still()
    rules = [rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and not rule.arguments]
    statuses = {rule.rule: client.get(rule.rule).status_code for rule in rules}
    assert {503} == {statuses[page] for page in ("/", "/new", "/crib/", "/quality/", "/setup/", "/operator/")}
    assert 200 == statuses["/sync/clock"]
    assert set() == {page for page, status in statuses.items() if status not in WITHOUT_RECORD}
    assert 1 == line.calls
    line.flow()
    work.close()


def test_pages_wait_five_seconds_at_most() -> None:
    """For each thing that a page may wait for, one at a time."""
    limits = [
        PAGES.connect,
        PAGES.lock,
        PAGES.statement,
        PAGES.answer,
        engine_module.POOL_S,
        engine_module.PAGES_WAIT_S,
    ]
    assert [] == [seconds for seconds in limits if not 0 < seconds < PAGES_FAIL_S]


@pytest.mark.parametrize("patience_of", [PAGES, COMMANDS])
def test_less_is_waited_for_a_busy_server_than_for_one_that_hangs(patience_of: Patience) -> None:
    """Else a lock or a long statement would be taken for silence, and everybody refused."""
    assert patience_of.lock < patience_of.answer
    assert patience_of.statement < patience_of.answer


def test_a_statement_of_a_page_ends(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    """The server ends it, and the connection is still good; a command's goes on."""
    monkeypatch.setattr(patience, "PAGES", Patience(connect=2, lock=1, statement=0.2, answer=30))
    pages, command = make_engine(line.url, for_pages=True), make_engine(line.url)
    for engine, ended in ((pages, True), (command, False)):
        with engine.connect() as connection:
            wanted = text("SELECT pg_sleep(0.4)::text")
            with pytest.raises(OperationalError, match="statement timeout") if ended else nullcontext():
                connection.scalar(wanted)
            connection.rollback()
            assert 1 == connection.scalar(text("SELECT 1"))
        engine.dispose()


def test_a_long_statement_is_waited_for(line: Line) -> None:
    """One that takes its time, and is heard of in time, is no server that stands still."""
    engine = make_engine(line.url, for_pages=True)
    with engine.connect() as connection:
        assert "" == connection.scalar(text("SELECT pg_sleep(1.5)::text"))
    engine.dispose()


def test_a_lock_is_not_waited_for_without_end(postgresql_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another transaction that holds what is needed."""
    monkeypatch.setattr(patience, "PAGES", Patience(connect=2, lock=1, statement=30, answer=30))
    holder, other = make_engine(postgresql_url), make_engine(postgresql_url, for_pages=True)
    with holder.begin() as held, other.connect() as waiting:
        held.execute(text("LOCK TABLE run"))
        with pytest.raises(OperationalError, match="lock timeout"):
            waiting.execute(text("SELECT COUNT(*) FROM run"))
    holder.dispose()
    other.dispose()
