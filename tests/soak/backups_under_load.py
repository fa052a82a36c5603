"""Backups at random moments while clients log: each equals a prefix of the log.

`python -m tests.soak.backups_under_load [MOMENTS] [DATABASE_URL]` serves a small shop, lets eight clients log as fast
as they are answered, and takes a backup at each of 50 random moments. Each is restored and compared: every run that was
acknowledged before the backup began is in it, and of each client no run is in it without all those before.
"""

from __future__ import annotations

import json
import random
import sqlite3
import sys
import tempfile
import threading
import time
import uuid
import zipfile
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from pathlib import Path

from shopfloor.services.record.work import utc_now
from shopfloor.services.upkeep.making import back_up
from shopfloor.settings import Settings
from shopfloor.store.upgrade import upgrade
from tests.cli.serving import Serving, run, serving
from tests.factories import open_shop
from tests.soak.clients import at_work

CLIENTS, TAPS, MOMENTS, SEED = 8, 3, 50, 14
LATER = 503
LONGEST_WAIT_S = 0.5


@dataclass
class LoggingClient:
    """Somebody who logs one run after the other; the ids in order, and how many were acknowledged."""

    server: Serving
    tap: str
    sent: list[str] = field(default_factory=list)
    acknowledged: int = 0
    waited: int = 0

    def work(self, stop: threading.Event) -> None:
        """Log until told to stop; where the server says 'later', send the same run again, as a tablet does."""
        while not stop.is_set():
            entry = run(tap=self.tap, holes=1)
            self.sent.append(entry["id"])
            while (answer := self.server.ask("/sync/runs", entry))[0] == LATER and not stop.is_set():
                self.waited += 1
            if answer[0] in (200, 201):
                self.acknowledged += 1
            elif answer[0] != LATER:
                raise AssertionError(answer)


@dataclass(frozen=True)
class LoadFigures:
    """What came of it."""

    moments: int
    runs: int
    waited: int
    lost: int
    gaps: int
    longest_backup_s: float

    def __str__(self) -> str:
        """One line."""
        return (
            f"{self.moments} backups under {self.runs} runs ({self.waited} times 'later'): "
            f"{self.lost} acknowledged runs missing, {self.gaps} gaps; the longest took {self.longest_backup_s:.1f} s"
        )


def measure(database: str, folder: Path, moments: int, seed: int = SEED) -> LoadFigures:
    """Take backups at so many random moments under load and look into each."""
    open_shop(database, folder / "instance").work.close()
    chance = random.Random(seed)  # noqa: S311 - no secret
    lost = gaps = 0
    longest = 0.0
    with serving(database, folder, SHOPFLOOR_BACKUP_AT="") as server, ExitStack() as stack:
        clients = [LoggingClient(server, f"T{1 + number % TAPS}") for number in range(CLIENTS)]
        stack.enter_context(at_work(clients))
        for number in range(moments):
            threading.Event().wait(chance.uniform(0, LONGEST_WAIT_S))
            before = [client.acknowledged for client in clients]
            began = time.monotonic()
            kept = kept_by(database, folder, number)
            longest = max(longest, time.monotonic() - began)
            for client, least in zip(clients, before, strict=True):
                there = [id_ in kept for id_ in list(client.sent)]
                lost += there[:least].count(False)
                gaps += there != sorted(there, reverse=True)
    runs, waited = (sum(getattr(client, name) for client in clients) for name in ("acknowledged", "waited"))
    return LoadFigures(moments, runs, waited, lost, gaps, longest)


def kept_by(database: str, folder: Path, number: int) -> set[str]:
    """The ids of the runs that a backup made now holds, made beside the server that serves."""
    to = folder / f"{number}.backup"
    back_up(Settings(database=database, data_folder=folder / "instance"), to, utc_now())
    with zipfile.ZipFile(to) as whole:
        names, rows = whole.namelist(), json.loads(whole.read("manifest.json"))["tables"]["run"]["rows"]
        if "database.sqlite" in names:
            ids = runs_in(Path(whole.extract("database.sqlite", folder)))
        else:
            head, *lines = whole.read("tables/run.copy").decode("utf-8").splitlines()
            at = json.loads(head).index("id")
            ids = [line.split("\t")[at] for line in lines]
    to.unlink()
    assert rows == len(ids)
    return {str(uuid.UUID(id_)) for id_ in ids}


def runs_in(path: Path) -> list[str]:
    """The ids of the runs in a SQLite file, which is removed."""
    with closing(sqlite3.connect(path)) as connection:
        ids = [row[0] for row in connection.execute("SELECT id FROM run")]
    path.unlink()
    return ids


def main() -> None:
    """Measure and print."""
    moments = int(sys.argv[1]) if len(sys.argv) > 1 else MOMENTS
    with tempfile.TemporaryDirectory() as scratch:
        database = sys.argv[2] if len(sys.argv) > 2 else f"sqlite:///{Path(scratch).as_posix()}/shop.sqlite"
        upgrade(database)
        print(measure(database, Path(scratch), moments))  # noqa: T201 - its purpose


if __name__ == "__main__":
    main()
