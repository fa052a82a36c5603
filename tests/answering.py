"""A thread of the test's own that answers for an application, of which nothing is left afterwards."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

import waitress
from waitress.channel import HTTPChannel

THREADS = 4
_ENDING_S = 60


@contextmanager
def answering(app: Callable[..., Any], **adjustments: Any) -> Iterator[int]:
    """The port of this machine at which the application answers; `adjustments` are waitress's."""
    sockets: dict[int, Any] = {}
    server = waitress.create_server(app, map=sockets, host="127.0.0.1", port=0, threads=THREADS, **adjustments)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server.effective_port
    finally:
        # Closed by the thread that waits for them: it wakes at once, and never waits for a number given to another.
        server.trigger.pull_trigger(partial(_close, sockets))
        thread.join(timeout=_ENDING_S)
        server.task_dispatcher.shutdown()
        assert not thread.is_alive()


def _close(sockets: dict[int, Any]) -> None:
    for one in list(sockets.values()):
        # A connection also closes the files that hold a long answer.
        if isinstance(one, HTTPChannel):
            one.handle_close()
        else:
            one.close()
