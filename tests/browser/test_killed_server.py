"""A real server that is killed at any moment: whatever the tablet took exists exactly once afterwards.

SHOPFLOOR_KILLS sets how many rounds are played; a few by default, a hundred take some minutes.
"""

from __future__ import annotations

import os
import random
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, expect

from tests.browser.network import STATUS, keeps
from tests.browser.patience import PATIENCE_MS, PATIENCE_S
from tests.browser.record import stored
from tests.browser.station_page import STATION, settle_by_touch

ROUNDS = int(os.environ.get("SHOPFLOOR_KILLS", "4"))
LONGEST_LIFE_S = 0.6
KEPT = """async (holes) => new Promise((resolve) => {
  const opening = indexedDB.open("shopfloor-tablet");
  opening.onsuccess = () => {
    const asked = opening.result.transaction("entries").objectStore("entries").getAll();
    asked.onsuccess = () => resolve(asked.result.some((entry) => entry.sent.holes === holes));
  };
})"""
SAVE = f"""async (holes) => {{
  const form = document.querySelector("form.log");
  form.elements.holes.value = holes;
  form.requestSubmit();
  const isKept = {KEPT};
  while (!(await isKept(holes))) await new Promise((resolve) => setTimeout(resolve, 20));
  return true;
}}"""
"""Saves the batch; resolves once the tablet has it, unless the page goes before."""


def free_port() -> int:
    """A port that stays free while nobody listens: the system hands it to no other program that asks for any."""
    for port in random.sample(range(20_000, 32_000), 100):
        with socket.socket() as probe, suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    pytest.fail("no port is free")


class MortalServer:
    """The tool as a process of its own on a port that it comes back to."""

    def __init__(self, database: str, folder: Path) -> None:
        self.port = free_port()
        self._command = [
            sys.executable, "-m", "shopfloor", "serve", "--no-estimator", "--port", str(self.port),
            "--database", database,
        ]  # fmt: skip
        self._environment = {**os.environ, "SHOPFLOOR_DATA_FOLDER": str(folder)}
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start and wait until it says where it answers, or has ended."""
        self._process = subprocess.Popen(
            self._command, env=self._environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        end = threading.Timer(PATIENCE_S, self._process.kill)
        end.start()
        try:
            lines = iter(self._process.stdout.readline, "") if self._process.stdout else iter(())
            if not any(f":{self.port}/" in line for line in lines):
                pytest.fail(f"the server did not start: {self._process.communicate()[1]}")
        finally:
            end.cancel()

    def kill(self) -> None:
        """SIGKILL: no time to finish anything."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()


def log_once(page: Page, number: int) -> int:
    """Save a batch of so many holes, until the tablet has it; returns the number."""
    holes = str(number)
    patience = time.monotonic() + PATIENCE_S
    while time.monotonic() < patience:
        # A page that renews itself gets in the way: what it was about to do is done anew, unless it was done.
        with suppress(Error):
            page.goto(STATION)
            if page.evaluate(KEPT, holes) or page.evaluate(SAVE, holes):
                return number
    pytest.fail(f"the tablet did not take {holes} holes")


def test_whatever_the_tablet_took_is_stored_once(browser: Browser, live_database: str, tmp_path: Path) -> None:
    """Killed at seeded moments around each save, started anew, and again."""
    rng = random.Random(5)  # noqa: S311  (seeded on purpose)
    taken: list[int] = []
    server = MortalServer(live_database, tmp_path / "instance")
    server.start()
    context = browser.new_context(has_touch=True, base_url=f"http://127.0.0.1:{server.port}")
    context.set_default_timeout(PATIENCE_MS)
    try:
        page = context.new_page()
        settle_by_touch(page)
        keeps(page)
        for number in range(1, ROUNDS + 1):
            taken.append(log_once(page, number))
            time.sleep(rng.uniform(0, LONGEST_LIFE_S))
            server.kill()
            if rng.random() < 0.3:
                taken.append(log_once(page, 1000 + number))
            server.start()
        page.goto(STATION)
        expect(page.locator(STATUS)).to_have_text("All saved")
        assert sorted(taken) == sorted(stored(live_database))
    finally:
        context.close()
        server.kill()
