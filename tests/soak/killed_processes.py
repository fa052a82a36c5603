"""Server, estimator and PostgreSQL are killed at random moments: every acknowledged run is stored once.

`python -m tests.soak.killed_processes [ROUNDS] [sqlite|postgresql]`: eight clients log on a shop of some 1,300 runs; in
each of 100 rounds one of the processes gets SIGKILL at a seeded moment and is begun again. A client sends a run, the
same one, until it is acknowledged. In the end the log holds what was acknowledged, once, and nothing else but the runs
under way; lives count the same runs; and estimates can be worked out.
"""

from __future__ import annotations

import http.client
import random
import sys
import tempfile
import threading
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select

from seed.load import load
from seed.simulate import simulate
from shopfloor.services.advice.estimator import make_next
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import Run, TapLife
from shopfloor.store.upgrade import upgrade
from tests.bench.bench_record import taps_in_service
from tests.cli.serving import Serving, run
from tests.soak import mortal
from tests.soak.clients import at_work
from tests.soak.mortal import Mortal

ROUNDS, CLIENTS, SEED = 100, 8, 14
_LOG_ENDS, _MONTHS = datetime(2026, 6, 1, 12, tzinfo=UTC), 6
LONGEST_LIFE_S = 1.5
PAUSE_S = 0.05
_DONE = (200, 201)


@dataclass
class StubbornClient:
    """Somebody who sends a run until it is acknowledged, then the next one."""

    server: Serving
    tap: str
    acknowledged: list[str] = field(default_factory=list)
    under_way: str = ""
    again: int = 0

    def work(self, stop: threading.Event) -> None:
        """Log until told to stop."""
        while not stop.is_set():
            entry = run(tap=self.tap, holes=1, station="arm-1", job="J-1001", depth_control="depth stop")
            self.under_way = entry["id"]
            while not self._is_taken(entry) and not stop.wait(PAUSE_S):
                self.again += 1

    def _is_taken(self, entry: dict[str, Any]) -> bool:
        with suppress(OSError, http.client.HTTPException, ValueError):
            status, told = self.server.ask("/sync/runs", entry)
            if status in _DONE:
                self.acknowledged.append(entry["id"])
                return True
            if status < 500:
                raise AssertionError(told)
        return False


@dataclass(frozen=True)
class KillFigures:
    """What came of it."""

    kills: dict[str, int]
    acknowledged: int
    again: int
    lost: int
    strange: int
    miscounted: int

    def __str__(self) -> str:
        """One line."""
        return (
            f"killed {self.kills}: {self.acknowledged} runs acknowledged ({self.again} tries in vain), {self.lost} "
            f"lost, {self.strange} that nobody sent or that are there twice, {self.miscounted} miscounted in lives"
        )


def measure(kind: str, home: Path, rounds: int, seed: int = SEED) -> KillFigures:
    """Kill one after the other, `rounds` times in all.

    Parameters
    ----------
    kind      sqlite or postgresql
    home      an empty folder
    rounds    how many kills
    seed      of the moments and the victims
    """
    chance = random.Random(seed)  # noqa: S311 - no secret
    with ExitStack() as stack:
        victims, database = _database(kind, home, stack)
        work = _shop(database, home)
        stack.callback(work.close)
        before = set(_stored(work))
        serving, port = mortal.server(database, home)
        victims = [*victims, serving, mortal.estimator(database, home)]
        stack.enter_context(mortal.alive(victims[-2:]))
        talk = Serving(port, serving.process, serving.log)  # type: ignore[arg-type] # it has begun
        taps = taps_in_service(work)
        clients = [StubbornClient(talk, taps[number % len(taps)]) for number in range(CLIENTS)]
        with at_work(clients):
            killed = [_kill_one(victims, number, chance) for number in range(rounds)]
        return _figures(work, before, clients, {one.name: killed.count(one.name) for one in victims})


def _database(kind: str, home: Path, stack: ExitStack) -> tuple[list[Mortal], str]:
    if kind == "sqlite":
        return [], f"sqlite:///{(home / 'shop.sqlite').as_posix()}"
    process, url = stack.enter_context(mortal.postgres())
    stack.enter_context(mortal.alive([process]))
    return [process], url


def _shop(database: str, home: Path) -> Work:
    upgrade(database)
    work = Work.on(Settings(database=database, data_folder=home / "instance"))
    load(work, simulate(_LOG_ENDS, months=_MONTHS))
    return work


def _kill_one(victims: Sequence[Mortal], number: int, chance: random.Random) -> str:
    """Each in turn at first, so that a short test kills all of them; then at random."""
    victim = victims[number] if number < len(victims) else chance.choice(victims)
    threading.Event().wait(chance.uniform(0, LONGEST_LIFE_S))
    victim.kill()
    victim.start()
    return victim.name


def _figures(work: Work, before: set[str], clients: Sequence[StubbornClient], kills: dict[str, int]) -> KillFigures:
    stored = _stored(work)
    acknowledged = {id_ for client in clients for id_ in client.acknowledged}
    sent = acknowledged | {client.under_way for client in clients}
    strange = len(set(stored) - before - sent) + len(stored) - len(set(stored))
    kept = _lives(work)
    rebuild(work)
    if not make_next(work, threading.Event().wait):
        raise AssertionError("no estimates")
    again = sum(client.again for client in clients)
    return KillFigures(
        kills, len(acknowledged), again, len(acknowledged - set(stored)), strange, len(kept ^ _lives(work))
    )


def _stored(work: Work) -> list[str]:
    with work.read() as session:
        return [str(id_) for id_ in session.scalars(select(Run.id))]


def _lives(work: Work) -> set[Any]:
    with work.read() as session:
        lives = select(TapLife.tap_id, TapLife.number, TapLife.runs, TapLife.holes, TapLife.state)
        return {tuple(row) for row in session.execute(lives)}


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    for kind in sys.argv[2:] or ("postgresql", "sqlite"):
        with tempfile.TemporaryDirectory() as home:
            print(f"{kind}: {measure(kind, Path(home), rounds)}", flush=True)  # noqa: T201 - its purpose


if __name__ == "__main__":
    main()
