"""How fast the record is: `python -m tests.bench.bench_record [--runs N]`.

Prints, for a simulated log of N runs (100,000 unless told otherwise) on SQLite: time to work out all tap lives anew
and a generation of estimates, to read all observations, and to fit every group (break, wear and both, with advice); the
station page with nothing in memory, when nothing has changed, and right after a run was logged; then how many runs a
second one client and four clients can log through the whole web application, JSON in, summaries kept, transaction
committed.
"""

from __future__ import annotations

import argparse
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import func, select

from seed.load import load
from seed.simulate import simulate
from shopfloor.app import create_app
from shopfloor.services.advice.estimates import forget
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import Run, Tap, TapLife
from shopfloor.store.upgrade import upgrade

RUNS_A_MONTH = 220
LOGGED = 400


@contextmanager
def timed(label: str, times: int = 1) -> Iterator[None]:
    """Print how long the block took, or each of the times that it did the same."""
    start = time.perf_counter()
    yield
    print(f"{label:<46} {(time.perf_counter() - start) / times:8.3f} s", flush=True)


def make(folder: Path, runs: int) -> Work:
    """A record of about that many runs."""
    settings = Settings(database=f"sqlite:///{(folder / 'bench.db').as_posix()}", data_folder=folder)
    upgrade(settings.database)
    work = Work.on(settings)
    with timed("simulate and load (not counted below)"):
        load(work, simulate(datetime.now(UTC), months=max(1, round(runs / RUNS_A_MONTH))))
    with work.read() as session:
        print(f"runs {session.scalar(select(func.count()).select_from(Run)):,}, "
              f"taps {session.scalar(select(func.count()).select_from(Tap)):,}, "
              f"lives {session.scalar(select(func.count()).select_from(TapLife)):,}")  # fmt: skip
    return work


def bench_summaries_and_fits(work: Work) -> None:
    """All lives anew, then every group's fits and advice."""
    with timed("work out all tap lives anew"):
        rebuild(work)
    with timed("work out a generation of estimates"):
        make_generation(work)
    with work.read() as session:
        with timed("gather all observations"):
            book = LifeBook.open(work, session)
        conditions = book.cutting_conditions()
        with timed(f"fit {len(conditions)} groups, with their advice"):
            for cutting in conditions:
                book.group(cutting)
                book.advice(cutting)
        with timed("the same again, from the cache"):
            for cutting in conditions:
                book.advice(cutting)


def taps_in_service(work: Work) -> list[str]:
    """Some taps that are in use at the station."""
    with work.read() as session:
        living = select(Tap.code).join(TapLife, TapLife.tap_id == Tap.id).where(TapLife.is_present)
        return list(session.scalars(living.where(TapLife.state == "in service").limit(20)))


def sender(work: Work, taps: list[str]) -> Callable[[int], int]:
    """Send one run through the application; returns the status."""
    app = create_app(work)

    def send(number: int) -> int:
        sent = {
            "id": str(uuid.uuid4()), "when": (datetime.now(UTC) - timedelta(seconds=1)).isoformat(),
            "person": "ada", "station": "arm-1", "job": "J-1001", "tap": taps[number % len(taps)], "rpm": 250,
            "holes": 40, "cutting_slips": 1, "tap_end": "still good", "depth_control": "depth stop",
            "lubricant": "mist",
        }  # fmt: skip
        return app.test_client().post("/sync/runs", json=sent).status_code

    return send


def bench_station_page(work: Work) -> None:
    """The page of a station with a tap in it, through the whole web application."""
    app = create_app(work)
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    client.post("/operator/arm-1/person", data={"person": "ada"})
    client.post("/operator/arm-1/job", data={"job": "J-1001"})

    def page() -> None:
        answer = client.get("/operator/arm-1/")
        assert b"usual for this job" in answer.data, "the page must show a tap with its risk"

    forget()
    with timed("station page, nothing in memory"):
        page()
    with timed("station page again (mean of 10)", times=10):
        for _ in range(10):
            page()
    send = sender(work, taps_in_service(work))
    for number in range(3):
        assert send(number) == 201, "the run must be stored"
        with timed("station page after a new run"):
            page()


def bench_logging(work: Work) -> None:
    """Runs a second through the JSON interface, one client and four."""
    send = sender(work, taps_in_service(work))
    assert send(0) == 201, "the first run must be stored"
    for clients in (1, 4):
        start = time.perf_counter()
        with ThreadPoolExecutor(clients) as pool:
            statuses = list(pool.map(send, range(LOGGED)))
        assert set(statuses) == {201}
        took = time.perf_counter() - start
        print(f"log {LOGGED} runs, {clients} client(s) at once{'':<17} {LOGGED / took:8.0f} runs a second")


def main() -> None:
    """Run both benchmarks."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=100_000)
    with tempfile.TemporaryDirectory() as folder:
        work = make(Path(folder), parser.parse_args().runs)
        bench_summaries_and_fits(work)
        bench_station_page(work)
        bench_logging(work)
        work.close()


if __name__ == "__main__":
    main()
