"""How long health and a run take while 300 connections stand still, by where they do.

Run it by `python -m tests.bench.bench_held`.
"""

from __future__ import annotations

import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from shopfloor.store.upgrade import upgrade
from tests.cli.held import HELD, WAYS
from tests.cli.serving import Serving, run, serving
from tests.factories import open_shop

TIMES = 5


def main() -> None:
    """Print the longest of a few answers for each way to stand still."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        database = f"sqlite:///{(folder / 'shop.sqlite').as_posix()}"
        upgrade(database)
        open_shop(database, folder).work.close()
        for stop_short in WAYS:
            with serving(database, folder) as server, ExitStack() as held:
                server.ask("/sync/runs", run())
                for _ in range(HELD):
                    stop_short(held.enter_context(server.connect()))
                health, stored = (max(timed(server, path) for _ in range(TIMES)) for path in ("/healthz", "/sync/runs"))
                print(f"{stop_short.__name__:20} health {health * 1000:4.0f} ms, a run {stored * 1000:4.0f} ms")


def timed(server: Serving, path: str) -> float:
    """Seconds to an answer on a new connection."""
    begun = time.perf_counter()
    status, _ = server.ask(path, run() if path == "/sync/runs" else None)
    assert status in (200, 201)
    return time.perf_counter() - begun


if __name__ == "__main__":
    main()
