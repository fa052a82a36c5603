"""The power fails while eight clients log: every acknowledged run is there afterwards.

`python -m tests.soak.power_loss [ROUNDS]`: in each of 20 rounds eight clients log on SQLite, through the whole web
application, while all that is written and synced is noted (`recorded_disk`). Then the power fails at random moments of
what happened: what was not synced is gone, or there in part, sector by sector. Each time the database must be whole,
hold every run acknowledged until then once, none that nobody sent, and lives that count the same runs.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import engine as engine_module
from shopfloor.store.upgrade import upgrade
from tests.cli.serving import run
from tests.factories import open_shop
from tests.soak.recorded_disk import RecordedDisk

ROUNDS, FAILURES, CLIENTS, RUNS_EACH, TAPS, SEED = 20, 30, 8, 6, 3, 14
SURVIVES = (0.0, 0.5, 1.0)
"""Probabilities that a sector which was not synced is there after all."""

NAME = "shop.sqlite"


@dataclass(frozen=True)
class PowerLossFigures:
    """What came of it."""

    failures: int
    acknowledged: int
    lost: int
    broken: int
    strange: int

    def __str__(self) -> str:
        """One line."""
        return (
            f"{self.failures} power failures, {self.acknowledged} times a run acknowledged before one: {self.lost} "
            f"lost, {self.broken} databases broken, {self.strange} with runs that nobody sent or lives that miscount"
        )


def measure(folder: Path, rounds: int, failures: int = FAILURES, seed: int = SEED) -> PowerLossFigures:
    """So many rounds of logging, each with so many failures at random moments."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    found = [one for number in range(rounds) for one in _round(folder / str(number), failures, chance)]
    return PowerLossFigures(len(found), *(sum(column) for column in zip(*found, strict=True)))


def _round(folder: Path, failures: int, chance: random.Random) -> Iterator[tuple[int, int, int, int]]:
    folder.mkdir()
    url = f"sqlite:///{(folder / NAME).as_posix()}"
    upgrade(url)
    open_shop(url, folder).work.close()
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.name.startswith(NAME)}
    disk, sent = RecordedDisk(), set()
    with disk.looked_at():
        sent = _log(Work.on(Settings(database=url, data_folder=folder)), disk)
    for number in range(failures):
        moment = chance.randrange(len(disk.happened))
        after = disk.after_a_failure(before, moment, SURVIVES[number % len(SURVIVES)], chance)
        acknowledged = {noted.name for noted in disk.happened[:moment] if noted.what == "acknowledged"}
        yield _looked_into(folder / f"after {number}", after, acknowledged, sent)


def _log(work: Work, disk: RecordedDisk) -> set[str]:
    """Let the clients log; the ids of all that they sent."""
    app = create_app(work)

    def client(number: int) -> list[str]:
        entries = [run(tap=f"T{1 + number % TAPS}", holes=1) for _ in range(RUNS_EACH)]
        browser = app.test_client()
        for entry in entries:
            answer = browser.post("/sync/runs", json=entry)
            if answer.status_code != 201:
                raise AssertionError(answer.text)
            disk.note("acknowledged", entry["id"])
        return [entry["id"] for entry in entries]

    with ThreadPoolExecutor(CLIENTS) as threads:
        sent = {id_ for ids in threads.map(client, range(CLIENTS)) for id_ in ids}
    work.close()
    return sent


def _looked_into(
    folder: Path, files: dict[str, bytes], acknowledged: set[str], sent: set[str]
) -> tuple[int, int, int, int]:
    """Of a database after the failure: how much was acknowledged, how much is lost, is it broken, is it strange."""
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    with closing(sqlite3.connect(folder / NAME)) as connection:
        try:
            whole = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            stored = [str(uuid.UUID(row[0])) for row in connection.execute("SELECT id FROM run")]
            counted = connection.execute("SELECT coalesce(sum(runs), 0) FROM tap_life").fetchone()[0]
        except sqlite3.DatabaseError:
            return len(acknowledged), len(acknowledged), 1, 0
    strange = not set(stored) <= sent or len(stored) != len(set(stored)) or counted != len(stored)
    return len(acknowledged), len(acknowledged - set(stored)), not whole, strange


@contextmanager
def less_careful() -> Iterator[None]:
    """SQLite syncs at checkpoints only, as it did once: to show that what is lost then is found."""
    with mock.patch.object(engine_module, "SYNCHRONOUS", "NORMAL"):
        yield


def main() -> None:
    """Measure and print, with the less careful way for comparison."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as scratch:
        for name in ("as it is", "synced at checkpoints only"):
            (Path(scratch) / name).mkdir()
        print("as it is:", measure(Path(scratch) / "as it is", rounds))  # noqa: T201 - its purpose
        with less_careful():
            figures = measure(Path(scratch) / "synced at checkpoints only", rounds)
        print("synced at checkpoints only:", figures)  # noqa: T201 - its purpose


if __name__ == "__main__":
    main()
