"""The estimator as a child process of a server: begun with it, begun again if it dies, ended with it.

The child ends when its standard input closes. That also happens when the server is killed, on every system.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from shopfloor.cli.estimate import WITH_PARENT
from shopfloor.settings import PREFIX, Settings

AGAIN_S, AGAIN_AT_MOST_S = 1.0, 60.0
"""Seconds before a child that died is begun again: twice as long each time."""

ENDS_S = 5.0
"""Seconds that the child has to end in, once its standard input is closed."""

_log = logging.getLogger(__name__)


@contextmanager
def estimating(settings: Settings) -> Iterator[None]:
    """Within this context an estimator follows the log of this database."""
    over = threading.Event()
    keeper = threading.Thread(target=_keep_running, args=(settings, over), daemon=True)
    keeper.start()
    try:
        yield
    finally:
        over.set()
        keeper.join(ENDS_S + 1)


def _keep_running(settings: Settings, over: threading.Event) -> None:
    again_s = AGAIN_S
    while not over.is_set():
        with _begin(settings) as child:
            while child.poll() is None and not over.wait(0.2):
                pass
            if over.is_set():
                _end(child)
                return
        _log.warning("The estimator ended with code %s; it is begun again in %.0f s", child.returncode, again_s)
        over.wait(again_s)
        again_s = min(2 * again_s, AGAIN_AT_MOST_S)


def _begin(settings: Settings) -> subprocess.Popen[bytes]:
    # The address may hold a password, which other people's lists of processes would show among the arguments.
    environment = {**os.environ, f"{PREFIX}DATABASE": settings.database}
    command = [sys.executable, "-m", "shopfloor", "estimate", "--follow", WITH_PARENT]
    return subprocess.Popen(command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)  # noqa: S603 - ours


def _end(child: subprocess.Popen[bytes]) -> None:
    if child.stdin is not None:
        with suppress(OSError):
            child.stdin.close()
    try:
        child.wait(ENDS_S)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()
