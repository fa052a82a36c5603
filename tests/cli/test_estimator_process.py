"""A server's own estimator: begun with it, begun again if it dies, gone when the server is gone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shopfloor.cli import estimator_process
from shopfloor.cli.estimator_process import estimating
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store.queries.lease import Holding, holding
from tests.cli.serving import LONG_S, serving


def awaited(is_so: Callable[[], bool]) -> bool:
    """Whether it becomes so in any reasonable time."""
    ends_at = time.monotonic() + LONG_S
    while not is_so() and time.monotonic() < ends_at:
        time.sleep(0.05)
    return is_so()


def held(work: Work) -> Holding | None:
    """Who works out estimates, if anybody does."""
    with work.read() as session:
        return holding(session)


@pytest.mark.parametrize("how", ["asked", "killed"])
def test_the_estimator_lives_as_long_as_its_server(sqlite_url: str, tmp_path: Path, how: str) -> None:
    """It follows the log while the server runs; whether that is asked to end or killed, it ends in order, too."""
    work = Work.on(Settings(database=sqlite_url))
    with serving(sqlite_url, tmp_path, has_estimator=True) as server:
        assert awaited(lambda: held(work) is not None)
        if how == "asked":
            assert 0 == server.stop()
        else:
            server.process.kill()
        assert awaited(lambda: held(work) is None)
    assert [] == server.lines()
    work.close()


def test_an_estimator_that_dies_is_begun_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each time; the last one is ended with the server."""
    begun: list[subprocess.Popen[bytes]] = []
    third = threading.Event()

    def begin(_: Settings) -> subprocess.Popen[bytes]:
        code = "raise SystemExit(3)" if len(begun) < 2 else "import sys; sys.stdin.read()"
        begun.append(subprocess.Popen([sys.executable, "-S", "-c", code], stdin=subprocess.PIPE))
        if len(begun) == 3:
            third.set()
        return begun[-1]

    monkeypatch.setattr(estimator_process, "_begin", begin)
    monkeypatch.setattr(estimator_process, "AGAIN_S", 0.01)
    with estimating(Settings()):
        assert third.wait(LONG_S)
        assert begun[2].poll() is None
    assert [3, 3] == [one.returncode for one in begun[:2]]
    assert begun[2].returncode is not None


@pytest.mark.skipif(os.name != "posix", reason="a process is told by a signal")
def test_an_estimator_by_itself_ends_when_told(sqlite_url: str) -> None:
    """In order: it leaves its place to the next at once."""
    work = Work.on(Settings(database=sqlite_url))
    command = [sys.executable, "-m", "shopfloor", "estimate", "--follow", "--database", sqlite_url]
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL) as process:
        assert awaited(lambda: held(work) is not None)
        process.send_signal(signal.SIGTERM)
        assert 0 == process.wait(LONG_S)
    assert held(work) is None
    work.close()
