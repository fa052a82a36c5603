"""A tablet whose network is taken away and given back."""

from __future__ import annotations

import json
import re
from contextlib import suppress
from datetime import datetime, timedelta

from playwright.sync_api import Error, Page, Route, expect

from tests.browser.patience import PATIENCE_MS
from tests.browser.reading import RENEWED, lifted, until
from tests.browser.record import asked
from tests.browser.station_page import SAVE, STATION, Finger

RUNS = "**/sync/runs"
STATUS = "[data-kept-status]"
SHEET = "document.querySelector('link[rel=stylesheet]').href"
ADVICE_IS_KEPT = """() => new Promise((resolve) => {
  const opening = indexedDB.open("shopfloor-tablet");
  const look = () => {
    const asked = opening.result.transaction("facts").objectStore("facts").get("advice arm-1");
    asked.onsuccess = () => (asked.result === undefined ? setTimeout(look, 50) : resolve(true));
  };
  opening.onsuccess = look;
})"""
"""Resolves once the tablet has the risks, which come after the lists."""

PAGE_IS_KEPT = "caches.match(location.href, { cacheName: 'shopfloor-pages-en' }).then((page) => page !== undefined)"


def keeps(page: Page) -> None:
    """Wait until the tablet has what it needs without network, the station page last."""
    until(page, "navigator.serviceWorker.ready.then(() => true)")
    until(page, "navigator.serviceWorker.controller !== null")
    page.goto(STATION)
    until(page, PAGE_IS_KEPT)
    until(page, ADVICE_IS_KEPT)


def cut(page: Page) -> None:
    """No network for the page and its worker."""
    page.context.set_offline(True)


def restore(page: Page) -> None:
    """The network is back, of which the browser tells the page."""
    page.context.set_offline(False)


def nudge(page: Page) -> None:
    """The page looks at the server now instead of in ten seconds; one that renews itself does so anyway."""
    try:
        page.evaluate("dispatchEvent(new Event('online'))")
    except Error as error:
        if RENEWED not in error.message:
            raise


def lose_answers(page: Page, address: str, times: int) -> list[int]:
    """Let the server answer, and the tablet never hear of it; the statuses of the lost answers."""
    lost: list[int] = []

    def lose(route: Route) -> None:
        lost.append(route.fetch(timeout=PATIENCE_MS).status)
        with suppress(Error):  # a page that is left meanwhile has given the request up by itself
            route.abort("connectionreset")

    page.route(address, lose, times=times)
    return lost


def log(finger: Finger, holes: str) -> None:
    """Save a batch that stays on the tablet."""
    for key in holes:
        finger.button(key)
    finger.button(SAVE)
    expect(finger.page.get_by_text(f"On this tablet: {holes} holes on")).to_be_visible()
    lifted(finger.page)


def go(tab: Page, address: str) -> None:
    """Go to another page; one that renews itself at that moment does so first."""
    try:
        tab.goto(address)
    except Error:
        tab.wait_for_load_state()
        tab.goto(address)


def quiet(page: Page, troubles: list[str]) -> None:
    """Without network a browser tells of requests that failed; nothing else may be told."""
    for tab in page.context.pages:
        # So that no look at the server comes after the last look at the troubles.
        go(tab, "about:blank")
    expected = re.compile(r"net::ERR_|Failed to load resource|status of (400|409|503)")
    assert [] == [trouble for trouble in troubles if not expected.search(trouble)]
    troubles.clear()


def break_elsewhere(page: Page, tap: str) -> None:
    """Another program logs that the tap broke; the browser's network is cut, ours is not."""
    request = page.context.request
    run = {
        "id": "01970000-0000-7000-8000-00000000dead", "person": "ada",
        "station": "arm-1", "job": "J-1002", "tap": tap, "rpm": 180, "holes": 5, "tap_end": "broken",
        "part_fate": "good", "broke_at_hole": 5,
    }  # fmt: skip
    now = datetime.fromisoformat(request.get("/sync/clock").json()["now"])
    body = json.dumps(run | {"when": (now - timedelta(minutes=1)).isoformat()})
    answer = request.post("/sync/runs", data=body, headers={"Content-Type": "application/json"})
    assert 201 == answer.status, answer.text()


def other_tap(database: str, tap: str) -> str:
    """A living tap of the same type."""
    query = """SELECT tap.code FROM tap JOIN tap_life ON tap_life.tap_id = tap.id AND tap_life.is_present
      WHERE tap_life.state IN ('unused', 'in service') AND tap.code <> :tap
      AND tap.tap_type_id = (SELECT tap_type_id FROM tap WHERE code = :tap)"""
    return str(asked(database, query, tap=tap)[0][0])
