"""What a commit costs, and what further servers bring: `python -m tests.bench.bench_servers [SECONDS]`.

Prints runs a second that eight clients log: within one process on SQLite, synced at each commit and at checkpoints only
in turns; then by HTTP on one and on two servers that share a PostgreSQL, which syncs each commit. All on this machine,
clients and database included. Before that, how long this disk takes to sync a page of 4 kB.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from statistics import median
from unittest import mock

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import engine as engine_module
from shopfloor.store.upgrade import upgrade
from tests.cli.serving import Serving, run
from tests.factories import open_shop
from tests.soak import mortal

SECONDS, CLIENTS, TAPS, SYNCS, TURNS = 10.0, 8, 3, 100, 3
Send = Callable[[dict[str, object]], int]


def sync_ms(folder: Path) -> float:
    """Median time to write a page and sync it."""
    took = []
    with (folder / "page").open("wb", buffering=0) as file:
        for _ in range(SYNCS):
            began = time.perf_counter()
            file.write(os.urandom(4096))
            os.fsync(file.fileno())
            took.append(time.perf_counter() - began)
    return median(took) * 1000


def rate(senders: Sequence[Send], seconds: float) -> float:
    """Runs a second that as many clients log as there are senders."""
    over = threading.Event()

    def client(number: int) -> int:
        logged = 0
        while not over.is_set():
            # One that had to wait too long for the others is told so, and is not counted.
            logged += senders[number](run(tap=f"T{1 + number % TAPS}", holes=1)) == 201
        return logged

    began = time.perf_counter()
    with ThreadPoolExecutor(len(senders)) as threads:
        working = [threads.submit(client, number) for number in range(len(senders))]
        over.wait(seconds)
        over.set()
    return sum(each.result() for each in working) / (time.perf_counter() - began)


@contextmanager
def within(synchronous: str) -> Iterator[list[Send]]:
    """Senders to an application in this process, on a new SQLite file."""
    with tempfile.TemporaryDirectory() as scratch, mock.patch.object(engine_module, "SYNCHRONOUS", synchronous):
        url = f"sqlite:///{Path(scratch).as_posix()}/shop.sqlite"
        upgrade(url)
        open_shop(url, Path(scratch)).work.close()
        work = Work.on(Settings(database=url, data_folder=Path(scratch)), for_pages=True)
        app = create_app(work)
        yield [lambda entry: app.test_client().post("/sync/runs", json=entry).status_code] * CLIENTS
        work.close()


@contextmanager
def servers(count: int) -> Iterator[list[Send]]:
    """Senders to servers of their own, in turn, on a new PostgreSQL."""
    with ExitStack() as stack:
        process, url = stack.enter_context(mortal.postgres())
        stack.enter_context(mortal.alive([process]))
        upgrade(url)
        homes = [Path(stack.enter_context(tempfile.TemporaryDirectory())) for _ in range(count)]
        open_shop(url, homes[0]).work.close()
        begun = [mortal.server(url, home) for home in homes]
        stack.enter_context(mortal.alive([one for one, _ in begun]))
        talks = [Serving(port, one.process, one.log) for one, port in begun if one.process is not None]
        yield [_by_http(talks[number % count]) for number in range(CLIENTS)]


def _by_http(talk: Serving) -> Send:
    return lambda entry: talk.ask("/sync/runs", entry)[0]


def main() -> None:
    """Measure and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    with tempfile.TemporaryDirectory() as scratch:
        print(f"a page of 4 kB is synced in {sync_ms(Path(scratch)):.2f} ms")
    for turn in range(TURNS):
        for synchronous in ("NORMAL", "FULL") if turn % 2 else ("FULL", "NORMAL"):
            with within(synchronous) as senders:
                one, many = rate(senders[:1], seconds), rate(senders, seconds)
                told = f"{one:6.1f} runs a second by 1 client, {many:6.1f} by {CLIENTS}"
                print(f"SQLite, synchronous={synchronous:<6}: {told}", flush=True)
    for count in (1, 2):
        with servers(count) as senders:
            print(
                f"PostgreSQL, {count} server(s): {rate(senders, seconds):6.1f} runs a second by {CLIENTS} clients",
                flush=True,
            )


if __name__ == "__main__":
    main()
