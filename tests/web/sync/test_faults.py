"""The disk is full, read-only, locked by another, or gone: nothing is acknowledged then, and all is well afterwards."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from shopfloor.store import engine as engine_module
from tests.cli.serving import run
from tests.factories import open_shop
from tests.web.sync.served import sent, served

ON_A_FULL_DISK = """
import resource, sys
from pathlib import Path
from tests.web.sync.served import sent, served
from tests.cli.serving import run

path = Path(sys.argv[1])
work, entry = served(f"sqlite:///{path.as_posix()}"), run()
size = Path(f"{path}-wal").stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
full = sent(work, entry)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(full, sent(work, entry), sent(work, entry))
"""


@pytest.fixture
def path(sqlite_url: str, tmp_path: Path) -> Path:
    """The file of a small shop."""
    open_shop(sqlite_url, tmp_path).work.close()
    return Path(sqlite_url.removeprefix("sqlite:///"))


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Another program holds the file."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


@contextmanager
def away(path: Path) -> Iterator[None]:
    """Somebody has moved the file."""
    moved = path.with_name("elsewhere.sqlite")
    path.rename(moved)
    yield
    moved.rename(path)


@pytest.mark.skipif(os.name != "posix", reason="an open file cannot be moved on Windows")
@pytest.mark.parametrize("fault", [locked, away])
def test_a_run_is_kept_by_its_tablet_meanwhile(fault: object, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """503 while it lasts; then the same run is stored, once."""
    monkeypatch.setattr(engine_module, "PAGES_WAIT_S", 0.2)
    work, entry = served(f"sqlite:///{path.as_posix()}"), run()
    with fault(path):  # type: ignore[operator]
        assert 503 == sent(work, entry)
    assert [201, 200] == [sent(work, entry) for _ in range(2)]
    work.close()


def test_a_read_only_file_takes_nothing(path: Path) -> None:
    """503 while nothing may be written; then the same run is stored, once."""
    work, entry = served(f"sqlite:///{path.as_posix()}"), run()
    with work.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")
    assert 503 == sent(work, entry)
    with work.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = OFF")
    assert [201, 200] == [sent(work, entry) for _ in range(2)]
    work.close()


@pytest.mark.skipif(os.name != "posix", reason="limits of files are POSIX")
def test_a_full_disk_takes_nothing(path: Path) -> None:
    """No file may grow: 503 until there is room again."""
    root = Path(__file__).resolve().parents[3]
    command = [sys.executable, "-c", ON_A_FULL_DISK, str(path)]
    where = {**os.environ, "PYTHONPATH": str(root)}
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, env=where, cwd=root, check=False)
    assert "503 201 200" == done.stdout.strip(), done.stderr
