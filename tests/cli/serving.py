"""The tool as a process of its own that serves a small shop on this machine, and plain connections to it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

LONG_S = 60
"""Longer than anything takes that works, on a busy machine too."""


@dataclass(frozen=True)
class Serving:
    """A server that runs."""

    port: int
    process: subprocess.Popen[str]
    log: Path

    def ask(self, path: str, body: Mapping[str, Any] | None = None, timeout: float = LONG_S) -> tuple[int, Any]:
        """Status and JSON of an answer on a connection of its own."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            if body is None:
                connection.request("GET", path)
            else:
                connection.request("POST", path, json.dumps(body), {"Content-Type": "application/json"})
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read())
        finally:
            connection.close()

    def connect(self) -> socket.socket:
        """A plain connection."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=LONG_S)

    def lines(self) -> list[str]:
        """What it has written to standard error."""
        return self.log.read_text(encoding="utf-8").splitlines()

    def stop(self, asked: signal.Signals = signal.SIGTERM) -> int:
        """Ask it to end; returns its exit code."""
        self.process.send_signal(asked)
        return self.process.wait(LONG_S)


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(database: str, folder: Path, *, has_estimator: bool = False, **environment: str) -> Iterator[Serving]:
    """The tool on this database, from when it answers to the end of the block."""
    port, log = free_port(), folder / "log"
    command = [sys.executable, "-m", "shopfloor", "serve", "--port", str(port), "--database", database]
    command += [] if has_estimator else ["--no-estimator"]
    settings = {**os.environ, "SHOPFLOOR_DATA_FOLDER": str(folder / "instance"), **environment}
    with log.open("w", encoding="utf-8") as written:
        process = subprocess.Popen(command, env=settings, text=True, stdout=subprocess.DEVNULL, stderr=written)
    server = Serving(port, process, log)
    try:
        await_answer(server)
        yield server
    finally:
        process.kill()
        process.wait()


def await_answer(server: Serving) -> None:
    """Wait until it listens, or say what it said when it ended."""
    ends_at = time.monotonic() + LONG_S
    while time.monotonic() < ends_at and server.process.poll() is None:
        with suppress(OSError), server.connect():
            return
        time.sleep(0.05)
    raise AssertionError(f"the server did not start: {server.lines()}")


def run(**changes: Any) -> dict[str, Any]:
    """A run of 48 good holes with tap T1 of the small shop, as a program sends it, ended now."""
    return {
        "id": str(uuid.uuid4()), "when": datetime.now(UTC).isoformat(), "person": "ada", "station": "arm",
        "job": "J1", "tap": "T1", "rpm": 250, "holes": 48, "cutting_slips": 0, "tap_end": "still good", **changes,
    }  # fmt: skip


LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z [A-Z]+ (-|[0-9a-f]{8}) [\w.]+ .+")
