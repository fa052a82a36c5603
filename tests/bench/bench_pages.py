"""How long people wait for a page: `python -m tests.bench.bench_pages [--runs N] [--database FILE]`.

Prints, for a simulated log of N runs (100,000 unless told otherwise) that `shopfloor serve` serves: the seconds from
asking for a page to its last byte, over HTTP, by the clock: the first time, the median of the next times, and right
after a run was logged. `--database` names the SQLite file of such a log that is there already.
"""

from __future__ import annotations

import argparse
import json
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from tests.bench.bench_record import make, taps_in_service

PAGES = {
    "station page": "/operator/arm-1/",
    "advice that a tablet keeps": "/sync/advice/arm-1",
    "set-up card": "/operator/arm-1/card",
    "last entries": "/operator/arm-1/entries",
    "crib board": "/crib/",
    "quality board": "/quality/",
    "life page": "/quality/life",
    "start page": "/",
}
TOKEN = re.compile(r'name="csrf_token"[^>]*value="([^"]+)"')
TIMES = 7
_PATIENCE_S = 300


class Person:
    """Somebody with a browser, who works at arm 1."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._open: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))
        self._choose("/operator/arm-1/person", person="ada")
        self._choose("/operator/arm-1/job", job="J-1001")

    def get(self, page: str) -> str:
        """The whole page."""
        with self._open.open(self._address + page, timeout=_PATIENCE_S) as answer:
            return str(answer.read().decode())

    def send(self, run: dict[str, object]) -> None:
        """Log a run through the JSON interface."""
        headers = {"Content-Type": "application/json"}
        request = Request(f"{self._address}/sync/runs", json.dumps(run).encode(), headers)  # noqa: S310
        with self._open.open(request, timeout=_PATIENCE_S) as answer:
            assert answer.status == 201, "the run must be stored"

    def _choose(self, page: str, **chosen: str) -> None:
        token = TOKEN.search(self.get(page))
        assert token is not None, f"{page} must have a form"
        body = urlencode({"csrf_token": token[1], **chosen}).encode()
        self._open.open(self._address + page, body, timeout=_PATIENCE_S).close()


def run_of(tap: str) -> dict[str, object]:
    """A batch that has just ended."""
    ended = (datetime.now(UTC) - timedelta(seconds=1)).isoformat()
    return {
        "id": str(uuid.uuid4()), "when": ended, "person": "ada", "station": "arm-1", "job": "J-1001", "tap": tap,
        "rpm": 250, "holes": 40, "cutting_slips": 1, "tap_end": "still good",
    }  # fmt: skip


@contextmanager
def served(database: str) -> Iterator[str]:
    """The address of a server of its own, as a shop starts it."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "shopfloor", "serve", "--database", database, "--port", str(port)]
    start = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as server:
        try:
            await_answer(f"http://127.0.0.1:{port}/healthz")
            print(f"{'start of the server, until it answers':<40} {time.perf_counter() - start:8.2f} s", flush=True)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()


def await_answer(address: str) -> None:
    """Wait until the server is there."""
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            build_opener().open(address).close()
        except URLError:
            assert time.monotonic() < until, "the server must answer"
            time.sleep(0.1)
        else:
            return


def seconds(person: Person, page: str) -> float:
    """From asking to the last byte."""
    start = time.perf_counter()
    person.get(page)
    return time.perf_counter() - start


def bench(address: str, taps: list[str]) -> None:
    """Each page: the first time, then warm, then after a run."""
    person = Person(address)
    assert "usual for this job" in person.get(PAGES["station page"]), "the page must show a tap with its risk"
    print(f"{'seconds by the clock':<40} {'first':>8} {'warm':>8} {'after a run':>12}")
    for number, (name, page) in enumerate(PAGES.items()):
        first = seconds(person, page)
        warm = statistics.median(seconds(person, page) for _ in range(TIMES))
        person.send(run_of(taps[number % len(taps)]))
        print(f"{name:<40} {first:8.3f} {warm:8.3f} {seconds(person, page):12.3f}", flush=True)


def main() -> None:
    """Make the log, serve it, ask for its pages."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--database", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if asked.database is None:
            work = make(Path(folder), asked.runs)
        else:
            work = Work.on(Settings(database=f"sqlite:///{asked.database.as_posix()}", data_folder=Path(folder)))
        taps, database = taps_in_service(work), work.settings.database
        work.close()
        with served(database) as address:
            bench(address, taps)


if __name__ == "__main__":
    main()
