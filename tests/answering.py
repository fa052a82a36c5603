"""A thread of the test's own that answers for an application, of which nothing is left afterwards."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

import waitress
from waitress import wasyncore

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
        server.trigger.pull_trigger(partial(wasyncore.close_all, sockets))
        thread.join(timeout=_ENDING_S)
        server.task_dispatcher.shutdown()
        assert not thread.is_alive()
