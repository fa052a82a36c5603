"""Clients that log at the same time, each in a thread."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Protocol


class Client(Protocol):
    """Somebody who logs until told to stop."""

    def work(self, stop: threading.Event) -> None:
        """Log until told to stop."""


@contextmanager
def at_work(clients: Sequence[Client]) -> Iterator[None]:
    """All of them at work; what goes wrong for one of them is raised at the end."""
    stop = threading.Event()
    with ThreadPoolExecutor(len(clients)) as threads:
        working = [threads.submit(client.work, stop) for client in clients]
        try:
            yield
        finally:
            stop.set()
    for each in working:
        each.result()
