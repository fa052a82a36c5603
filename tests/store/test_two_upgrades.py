"""Two processes that upgrade at once: one does it, the other waits and finds nothing left to do."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import text

from shopfloor.store.engine import make_engine
from shopfloor.store.upgrade import downgrade, is_at_head, upgrade
from tests.factories import open_shop
from tests.services.logs import LOG

AT_ONCE = 2
WORDS = """
import sys
import alembic.command, shopfloor.cli.upgrade, shopfloor.cli.runs
from shopfloor.cli import main
print("ready", flush=True)
sys.stdin.readline()
main(sys.argv[1:])
"""
"""Waits for a word when all is loaded, so that two begin in the same moment."""


def at_once(*arguments: str, folder: Path) -> list[tuple[int, str]]:
    """Exit code and standard error of the command, given to several processes in the same moment."""
    environment = {**os.environ, "SHOPFLOOR_DATA_FOLDER": str(folder)}
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", WORDS, *arguments],
            env=environment,
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        for _ in range(AT_ONCE)
    ]
    for process in processes:
        assert process.stdout is not None
        assert "ready\n" == process.stdout.readline()
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    return [(process.returncode, errors) for process in processes for _, errors in [process.communicate(timeout=120)]]


@pytest.mark.parametrize("is_old", [False, True])
def test_both_end_well(is_old: bool, empty_database_url: str, tmp_path: Path) -> None:
    """On an empty database and on the record of an earlier version, whichever was first."""
    if is_old:
        upgrade(empty_database_url)
        open_shop(empty_database_url, tmp_path).work.close()
        downgrade(empty_database_url, "0007")
    ended = at_once("upgrade", "--database", empty_database_url, folder=tmp_path)
    assert [(0, "")] * AT_ONCE == ended
    engine = make_engine(empty_database_url)
    assert is_at_head(engine)
    engine.dispose()


def test_a_record_is_begun_once(empty_database_url: str, tmp_path: Path) -> None:
    """Two imports that find no record both find the one that was made; what both bring is stored once."""
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    ended = at_once("runs", "import", str(tmp_path / "log.csv"), "--database", empty_database_url, folder=tmp_path)
    assert [(0, "")] * AT_ONCE == ended
    engine = make_engine(empty_database_url)
    with engine.connect() as connection:
        assert 4 == connection.scalar(text("SELECT COUNT(*) FROM run"))
    engine.dispose()
