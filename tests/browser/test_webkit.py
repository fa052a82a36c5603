"""The station page in WebKit, which many tablets have: a batch, a broken tap, the next one, no network, and back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from selenium.common.exceptions import TimeoutException, WebDriverException
from selenium.webdriver.remote.webdriver import WebDriver
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.wait import WebDriverWait

from tests.browser import webkit
from tests.browser.conftest import FAILED
from tests.browser.network import ADVICE_IS_KEPT, PAGE_IS_KEPT
from tests.browser.patience import PATIENCE_S
from tests.browser.relay import Relay
from tests.browser.station_page import STATION
from tests.conftest import lacking

SAVE = "Save for Ada K."
IS_CONTROLLED = "navigator.serviceWorker.ready.then(() => navigator.serviceWorker.controller !== null)"
IN_SIGHT = """return [...document.querySelectorAll(arguments[0])]
  .find((element) => element.checkVisibility() && element.textContent.includes(arguments[1])) ?? null"""


class Hand:
    """Waits for what is to be seen on the tablet, and touches it."""

    def __init__(self, browser: WebDriver, address: str) -> None:
        self.browser = browser
        self._address = address
        browser.set_window_size(1280, 838)
        browser.set_script_timeout(PATIENCE_S)

    def opens(self, page: str) -> None:
        """Go to a page."""
        self.browser.get(self._address + page)

    def until(self, condition: str) -> None:
        """Wait until a condition in JavaScript holds, or what it promises."""
        script = f"const [done] = arguments; Promise.resolve({condition}).then(done, () => done(false));"
        self._patiently(lambda: self.browser.execute_async_script(script), condition)

    def sees(self, selector: str, words: str = "") -> WebElement:
        """The first element of that kind in sight that bears these words."""
        found = self._patiently(lambda: self.browser.execute_script(IN_SIGHT, selector, words), f"{selector}: {words}")
        assert isinstance(found, WebElement)
        return found

    def touches(self, selector: str, words: str = "") -> None:
        """Touch it once it is there."""
        self.sees(selector, words).click()

    def _patiently(self, look: Callable[[], Any], told: str) -> Any:
        # A page that makes way for the next one answers nothing.
        waiting = WebDriverWait(self.browser, PATIENCE_S, 0.1, ignored_exceptions=[WebDriverException])
        return waiting.until(lambda _: look(), f"never came: {told}")


@pytest.fixture
def relay(live_server: str) -> Iterator[Relay]:
    """The network between the tablet and its server."""
    with Relay(live_server) as relay:
        yield relay


@pytest.fixture
def hand(relay: Relay, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Hand]:
    """A hand at a tablet with WebKit, on which Ada works at arm 1; it keeps what it needs without network."""
    found = webkit.find()
    if found is None:
        (lacking if webkit.can_be_had() else pytest.skip)("no WebKitGTK with its driver, and Xvfb, to test with")
    with webkit.running(found) as browser:
        hand = Hand(browser, relay.address)
        settle(hand)
        yield hand
        if request.node.stash.get(FAILED, False):
            browser.save_screenshot(str(tmp_path / "failed.png"))


def settle(hand: Hand) -> None:
    """Ada works at arm 1, and the tablet keeps its pages, lists and risks."""
    hand.opens("/operator/")
    for name in ("Tapping arm 1", "Ada K.", "J-1002"):
        hand.touches(".tile", name)
    hand.sees("button", SAVE)
    try:
        hand.until(IS_CONTROLLED)
    except TimeoutException:
        # On a busy machine WebKit may begin an installation that never ends; the next visit begins another one.
        hand.opens(STATION)
        hand.until(IS_CONTROLLED)
    hand.opens(STATION)
    hand.until(PAGE_IS_KEPT)
    hand.until(f"({ADVICE_IS_KEPT})()")


def stored(database: str) -> list[int]:
    """Holes of the newest three runs on the server, oldest first."""
    with closing(sqlite3.connect(database.removeprefix("sqlite:///"))) as connection:
        newest = connection.execute("SELECT holes FROM run ORDER BY rowid DESC LIMIT 3").fetchall()
    return [holes for (holes,) in reversed(newest)]


def test_a_batch_goes_on_through_a_break_and_without_network(hand: Hand, relay: Relay, live_database: str) -> None:
    """48 holes; a tap that breaks at 27 of 48; a tap from the box, its 21 holes without network, kept over a reload."""
    hand.touches("[data-fill]", "48")
    hand.touches("button", SAVE)
    hand.sees("[role=status]", "Saved: 48 holes on T")
    hand.touches("[data-fill]", "48")
    hand.touches("label.tile", "Broken")
    for key in "27":
        hand.touches(".keypad button", key)
    hand.touches("label.tile", "Part scrapped")
    hand.touches("button", SAVE)
    hand.sees("main", "21 holes of the batch are left")
    hand.touches("button[name=tap_type]")
    tap = hand.sees(".code-to-write").text
    hand.sees("[data-fill]", "left of batch")
    relay.cut()
    hand.touches("button", SAVE)
    hand.sees("[role=status]", f"On this tablet: 21 holes on {tap}")
    hand.browser.refresh()
    hand.sees("[data-kept-status]", "1 on this tablet")
    hand.sees("[role=status]", "The server does not answer")
    hand.sees(".waiting-holes", "21 on this tablet")
    relay.restore()
    hand.until("dispatchEvent(new Event('online'))")
    hand.sees("[data-kept-status]", "All saved")
    hand.sees("[role=status]", f"Saved: 21 holes on {tap}")
    hand.sees("[data-fill]", "as last time")
    assert [48, 27, 21] == stored(live_database)
