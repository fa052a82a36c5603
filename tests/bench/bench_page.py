"""How light the operator's page is: `python -m tests.bench.bench_page [--rounds N]`, with a Chromium.

Prints, for a tablet in front of the demo shop: touches of an ordinary batch and of a broken tap; bytes
over the wire and requests of the first load of the station page (with all that the service worker keeps for the time
without network) and of the next one; requests to others than our server; and the milliseconds until
the keypad can be used on a processor slowed to a quarter, as medians.
"""

from __future__ import annotations

import argparse
import shutil
import socket
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from shopfloor.app import create_app
from shopfloor.cli.options import open_work
from shopfloor.settings import Settings
from tests.answering import answering
from tests.browser import chromium
from tests.browser.conftest import TABLET
from tests.browser.station_page import STATION, Finger, settle_by_touch
from tests.kept import make_demo

BUDGET_BYTES = 60_000
SLOWED = 4
REST_S = 1.5
"""Before each load: a tablet in use is switched on, and what the one before it set going is over."""

_CHUNK = 65536
USABLE = """() => new Promise((resolve) => {
  const isShown = (name) => document.querySelector(`[${name}]:not([hidden])`) !== null;
  const isUsable = () => isShown("data-keypad") && isShown("data-kept-status");
  const look = () => isUsable() ? resolve(performance.now()) : setTimeout(look, 5);
  look();
})"""
"""Resolves with the milliseconds since the page was asked for, once keypad and outbox work."""

CONTROLLED = """() => new Promise((resolve) => {
  const look = () => navigator.serviceWorker.controller ? resolve(true) : setTimeout(look, 50);
  look();
})"""
"""Resolves once the service worker has all that it keeps."""


@dataclass
class Wire:
    """A cable between tablet and server that counts what goes through it."""

    server: tuple[str, int]
    received: int = 0
    sent: int = 0
    _listening: socket.socket = field(default_factory=lambda: socket.create_server(("127.0.0.1", 0)))

    @property
    def address(self) -> str:
        """Where the tablet plugs in."""
        return f"http://127.0.0.1:{self._listening.getsockname()[1]}"

    def open(self) -> None:
        """Carry until it is closed."""
        with suppress(OSError):
            while True:
                tablet, _ = self._listening.accept()
                server = socket.create_connection(self.server)
                threading.Thread(target=self._carry, args=[tablet, server, "sent"], daemon=True).start()
                threading.Thread(target=self._carry, args=[server, tablet, "received"], daemon=True).start()

    def close(self) -> None:
        """Carry no more."""
        self._listening.close()

    def _carry(self, one: socket.socket, other: socket.socket, way: str) -> None:
        with suppress(OSError):
            while chunk := one.recv(_CHUNK):
                setattr(self, way, getattr(self, way) + len(chunk))
                other.sendall(chunk)
            other.shutdown(socket.SHUT_WR)


@dataclass(frozen=True)
class Bench:
    """The tablet's browser, the cable to the server, and the requests that went through it."""

    browser: Browser
    wire: Wire
    requests: list[str]

    def tablet(self, **options: Any) -> BrowserContext:
        """A tablet that has nothing yet."""
        width, height = TABLET
        viewport: Any = {"width": width, "height": height}
        context = self.browser.new_context(base_url=self.wire.address, has_touch=True, viewport=viewport, **options)
        context.set_default_timeout(60_000)
        context.on("request", lambda request: self.requests.append(request.url))
        return context

    def count(self, label: str, work: Callable[[], None]) -> int:
        """Print and return what went over the wire meanwhile, both ways."""
        before, asked = (self.wire.received, self.wire.sent), len(self.requests)
        work()
        received, sent = self.wire.received - before[0], self.wire.sent - before[1]
        new = self.requests[asked:]
        foreign = [url for url in new if urlsplit(url).netloc != urlsplit(self.wire.address).netloc]
        print(f"{label:<44} {received:8,} B received {sent:7,} B sent {len(new):4} requests {len(foreign):3} to others")
        return received


@contextmanager
def demo_shop(database: Path | None) -> Iterator[Bench]:
    """The demo shop, a fresh one where no file holds it, behind a counting wire, and a browser."""
    path = chromium.find()
    if path is None:
        raise SystemExit("no Chromium or Chrome to measure with")
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        if database is None:
            make_demo(folder / "demo.sqlite")
        else:
            shutil.copyfile(database, folder / "demo.sqlite")
        settings = Settings(database=f"sqlite:///{(folder / 'demo.sqlite').as_posix()}", data_folder=folder)
        work = stack.enter_context(open_work(settings))
        port = stack.enter_context(answering(create_app(work)))
        wire = stack.enter_context(closing(Wire(("127.0.0.1", port))))
        threading.Thread(target=wire.open, daemon=True).start()
        driver = stack.enter_context(sync_playwright())
        browser = driver.chromium.launch(executable_path=path, args=list(chromium.FLAGS))
        yield Bench(browser, wire, [])
        browser.close()


def kept(page: Page) -> None:
    """Wait until the service worker has all that the page needs without network."""
    page.evaluate(CONTROLLED)
    page.wait_for_load_state("networkidle")


def touches(bench: Bench) -> Any:
    """Count touches; returns who works where on what, for tablets that are given the same."""
    tablet = bench.tablet()
    page = tablet.new_page()
    expect.set_options(timeout=60_000)
    settle_by_touch(page)
    state = tablet.storage_state()
    finger = Finger(page)
    began = time.perf_counter()
    finger.touch(page.locator("[data-fill]"))
    finger.save()
    took = time.perf_counter() - began
    print(f"touches of an ordinary batch                 {finger.touches}, the tool's part of it {took:.1f} s")
    finger = Finger(page)
    finger.touch(page.locator("[data-fill]"))
    finger.tile("Broken")
    for key in "27":
        finger.button(key)
    finger.tile("Part scrapped")
    finger.tile("Chips packed")
    finger.save()
    finger.touch(page.locator("button[name=tap_type]").first)
    print(f"touches of a broken tap, its incident, a new tap {finger.touches}")
    tablet.close()
    return state


def bytes_of_loads(bench: Bench, state: Any) -> None:
    """The first load and later ones."""
    tablet = bench.tablet(storage_state=state)
    page = tablet.new_page()

    def load() -> None:
        page.goto(STATION)
        kept(page)

    first = bench.count("first load, with what is kept for offline", load)
    print(f"{'':<44} {first / BUDGET_BYTES:8.0%} of the {BUDGET_BYTES:,} B that it may have")
    bench.count("the same page again", load)
    tablet.close()


def time_of_loads(bench: Bench, state: Any, rounds: int) -> None:
    """Milliseconds until the keypad can be used, on a slow tablet."""
    cold, warm = [], []
    for _ in range(rounds):
        tablet = bench.tablet(storage_state=state)
        page = tablet.new_page()
        tablet.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        time.sleep(REST_S)
        page.goto(STATION)
        cold.append(page.evaluate(USABLE))
        kept(page)
        time.sleep(REST_S)
        page.goto(STATION)
        warm.append(page.evaluate(USABLE))
        tablet.close()
    for label, times in (("first load", cold), ("later loads", warm)):
        told = f"median {statistics.median(times):6.0f} ms, {min(times):.0f} to {max(times):.0f}"
        print(f"usable at 1/{SLOWED} of the speed, {label:<15} {told} ({rounds} rounds)")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="How light the operator's page is.")
    parser.add_argument("--rounds", type=int, default=7, help="loads of which the median is told")
    parser.add_argument("--database", type=Path, help="a file with the demo shop, which stays as it is")
    wishes = parser.parse_args()
    with demo_shop(wishes.database) as bench:
        state = touches(bench)
        bytes_of_loads(bench, state)
        time_of_loads(bench, state, wishes.rounds)


if __name__ == "__main__":
    main()
