"""Ready means that an entry would be stored now."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, text

from shopfloor.services import health
from shopfloor.services.health import is_ready
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import engine as engine_module
from tests.factories import open_shop

ON_A_FULL_DISK = """
import resource, sys
from pathlib import Path
from shopfloor.services import health
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings

health.EVERY_S = 0
path = Path(sys.argv[1])
work = Work.on(Settings(database=f"sqlite:///{path}"))
before = health.is_ready(work)
log = Path(f"{path}-wal").stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (log, resource.RLIM_INFINITY))
while_full = health.is_ready(work)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(before, while_full, health.is_ready(work))
"""


@pytest.fixture
def work(database_url: str, tmp_path: Path) -> Iterator[Work]:
    """A small shop, for pages."""
    open_shop(database_url, tmp_path).work.close()
    work = Work.on(Settings(database=database_url, data_folder=tmp_path), for_pages=True)
    yield work
    work.close()


@pytest.fixture
def looks_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is remembered."""
    monkeypatch.setattr(health, "EVERY_S", 0)


def test_a_record_that_can_be_written_is_ready(work: Work) -> None:
    """And stays as it was."""
    assert is_ready(work)
    assert is_ready(work)


@pytest.mark.usefixtures("looks_each_time")
def test_a_record_that_can_only_be_read_is_not_ready(work: Work, sqlite_or_read_only: Any) -> None:
    """While reading works; and it is ready again as soon as it can be written."""
    assert is_ready(work)
    with sqlite_or_read_only(work):
        with work.read() as session:
            assert 1 == session.scalar(text("SELECT COUNT(*) FROM alembic_version"))
        assert not is_ready(work)
    assert is_ready(work)


@pytest.fixture
def sqlite_or_read_only() -> Any:
    """Makes a database one that refuses to be written, on either kind: as a read-only disk or a copy in stand-by do."""

    class ReadOnly:
        def __init__(self, work: Work) -> None:
            self.engine = work.engine
            is_sqlite = self.engine.dialect.name == "sqlite"
            self.on = "PRAGMA query_only = ON" if is_sqlite else "SET default_transaction_read_only = on"
            self.off = "PRAGMA query_only = OFF" if is_sqlite else "SET default_transaction_read_only = off"

        def __enter__(self) -> None:
            event.listen(self.engine, "checkout", self.switch_on)
            event.listen(self.engine, "checkin", self.switch_off)

        def __exit__(self, *_: object) -> None:
            event.remove(self.engine, "checkout", self.switch_on)
            event.remove(self.engine, "checkin", self.switch_off)

        def switch_on(self, connection: Any, *_: object) -> None:
            self.say(connection, self.on)

        def switch_off(self, connection: Any, *_: object) -> None:
            self.say(connection, self.off)

        @staticmethod
        def say(connection: Any, words: str) -> None:
            with closing(connection.cursor()) as cursor:
                cursor.execute(words)
            connection.commit()

    return ReadOnly


@pytest.mark.skipif(os.name != "posix", reason="limits of files are POSIX")
def test_a_full_disk_is_not_ready(sqlite_url: str, tmp_path: Path) -> None:
    """No file may grow, as on a full disk: not ready until there is room again."""
    open_shop(sqlite_url, tmp_path).work.close()
    command = [sys.executable, "-c", ON_A_FULL_DISK, sqlite_url.removeprefix("sqlite:///")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    assert "True False True" == done.stdout.strip()


def test_who_asks_often_is_told_what_was_found(work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand questions write once; later they write again."""
    writes: list[int] = []

    def counted(engine: object) -> bool:
        writes.append(1)
        return True

    now = [1000.0]
    monkeypatch.setattr(health, "takes_entries", counted)
    monkeypatch.setattr("shopfloor.services.health.time.monotonic", lambda: now[0])
    assert all(is_ready(work) for _ in range(1000))
    assert 1 == len(writes)
    now[0] += health.EVERY_S
    assert is_ready(work)
    assert 2 == len(writes)


@pytest.mark.usefixtures("looks_each_time")
def test_a_lock_that_is_held_too_long_is_not_ready(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pages wait for another writer for a while, shorter than a tablet waits for its answer, and then say so."""
    assert engine_module.PAGES_WAIT_S < 8
    monkeypatch.setattr(engine_module, "PAGES_WAIT_S", 0.2)
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path), for_pages=True)
    with closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert not is_ready(work)
        other.execute("COMMIT")
    assert is_ready(work)
    work.close()
