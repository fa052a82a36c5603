"""A real server that is killed at any moment: whatever the tablet took exists exactly once afterwards.

SHOPFLOOR_KILLS sets how many rounds are played; a few by default, a hundred take some minutes.
"""

from __future__ import annotations

import os
import random
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, expect

from tests.browser.test_offline import LAST_OF_DEMO, STATUS, asked, keeps, stored
from tests.browser.test_operator import STATION, settle

ROUNDS = int(os.environ.get("SHOPFLOOR_KILLS", "4"))
LONGEST_LIFE_S = 0.6
KEPT = """async (holes) => new Promise((resolve) => {
  const opening = indexedDB.open("shopfloor-tablet");
  opening.onsuccess = () => {
    const asked = opening.result.transaction("entries").objectStore("entries").getAll();
    asked.onsuccess = () => resolve(asked.result.some((entry) => entry.sent.holes === holes));
  };
})"""
SAVE = """(holes) => {
  const form = document.querySelector("form.log");
  form.elements.holes.value = holes;
  form.requestSubmit();
}"""


class MortalServer:
    """The tool as a process of its own on a port that it comes back to."""

    def __init__(self, database: str, folder: Path) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._command = [sys.executable, "-m", "shopfloor", "serve", "--port", str(self.port), "--database", database]
        self._environment = {**os.environ, "SHOPFLOOR_DATA_FOLDER": str(folder)}
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start and wait until it answers."""
        self._process = subprocess.Popen(
            self._command, env=self._environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        for _ in range(600):
            with suppress(urllib.error.URLError, ConnectionError, TimeoutError):
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/healthz", timeout=5).close()
                return
            time.sleep(0.05)
        pytest.fail("the server did not start")

    def kill(self) -> None:
        """SIGKILL: no time to finish anything."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()


def log_once(page: Page, number: int) -> int:
    """Save a batch of so many holes, until the tablet has it; returns the number."""
    holes = str(number)
    for attempt in range(20):
        # A page that renews itself gets in the way of `goto`: the next try waits until it has come to rest.
        time.sleep(0.25 if attempt else 0)
        with suppress(Error):
            page.goto(STATION)
            if page.evaluate(KEPT, holes):
                return number
            page.evaluate(SAVE, holes)
            page.wait_for_timeout(50)
            if page.evaluate(KEPT, holes):
                return number
    pytest.fail(f"the tablet did not take {holes} holes")


def test_whatever_the_tablet_took_is_stored_once(browser: Browser, live_database: str, tmp_path: Path) -> None:
    """Killed at seeded moments around each save, started anew, and again."""
    rng = random.Random(5)  # noqa: S311  (seeded on purpose)
    taken: list[int] = []
    LAST_OF_DEMO[live_database] = asked(live_database, "SELECT MAX(rowid) FROM run")[0][0]
    server = MortalServer(live_database, tmp_path / "instance")
    server.start()
    context = browser.new_context(has_touch=True, base_url=f"http://127.0.0.1:{server.port}")
    try:
        page = context.new_page()
        settle(page)
        keeps(page)
        for number in range(1, ROUNDS + 1):
            taken.append(log_once(page, number))
            time.sleep(rng.uniform(0, LONGEST_LIFE_S))
            server.kill()
            if rng.random() < 0.3:
                taken.append(log_once(page, 1000 + number))
            server.start()
        page.goto(STATION)
        expect(page.locator(STATUS)).to_have_text("All saved", timeout=60_000)
        assert sorted(taken) == sorted(stored(live_database))
    finally:
        context.close()
        server.kill()
