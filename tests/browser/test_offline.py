"""A tablet that loses its network, its server or its place: what was saved is on the server once, or seen in the tray."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import Tablet
from tests.browser.reading import faults
from tests.browser.test_operator import STATION, Finger, settle

RUNS = "**/sync/runs"
ANY = re.compile("/(sync|operator)/")
STATUS = "[data-kept-status]"
SAVE = "Save for Ada K."


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that keeps its pages and lists."""
    settle(page)
    keeps(page)
    return Finger(page)


def keeps(page: Page) -> None:
    """Wait until the tablet has what it needs without network, the station page last."""
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    page.goto(STATION)
    page.wait_for_function(
        "async () => (await caches.match(location.href, { cacheName: 'shopfloor-pages' })) !== undefined"
    )
    page.wait_for_function(
        """async () => await new Promise((resolve) => {
          const opening = indexedDB.open("shopfloor-tablet");
          opening.onsuccess = () => {
            const asked = opening.result.transaction("facts").objectStore("facts").get("lists arm-1");
            asked.onsuccess = () => resolve(asked.result !== undefined);
          };
        })"""
    )


def cut(page: Page) -> None:
    """No network for the page and its worker."""
    page.context.set_offline(True)


def restore(page: Page) -> None:
    """The network is back; the page hears of it."""
    page.context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")


def log(finger: Finger, holes: str) -> None:
    """Save a batch that stays on the tablet."""
    for key in holes:
        finger.button(key)
    finger.button(SAVE)
    expect(finger.page.get_by_text(f"On this tablet: {holes} holes on")).to_be_visible()
    # No finger is back within the time in which a second touch counts as a bounce.
    finger.page.wait_for_timeout(450)


def stored(database: str, ids_only: bool = True) -> list[Any]:
    """Holes of the runs that the record got in this test, in the order of the work."""
    with closing(sqlite3.connect(database.removeprefix("sqlite:///"))) as connection:
        query = "SELECT holes FROM run WHERE recorded_at > datetime('now', '-10 minutes') ORDER BY ended_at, position"
        return [row[0] for row in connection.execute(query)]


def quiet(troubles: list[str]) -> None:
    """Without network a browser tells of requests that failed; nothing else may be told."""
    expected = re.compile(r"net::ERR_|Failed to load resource|status of (400|409|503)")
    assert [] == [trouble for trouble in troubles if not expected.search(trouble)]
    troubles.clear()


def test_what_is_saved_without_network_is_sent_in_order(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """Three batches, a reload without network, then the network: three runs, each once."""
    cut(page)
    for holes in ("11", "12"):
        log(finger, holes)
    page.reload()
    expect(page.locator(STATUS)).to_contain_text("2 on this tablet")
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    log(finger, "13")
    expect(page.locator(STATUS)).to_have_text("3 on this tablet, no network")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11, 12, 13] == stored(live_database)
    quiet(troubles)
