"""A tablet with a real browser, in front of a real server on a fresh copy of the demo."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, Request, ViewportSize, expect, sync_playwright

from shopfloor.app import create_app
from shopfloor.cli.options import open_work
from shopfloor.settings import Settings
from tests.answering import answering
from tests.browser import chromium
from tests.browser.patience import PATIENCE_MS, PATIENCE_S, as_patient
from tests.browser.record import LAST_OF_DEMO, newest_run
from tests.conftest import lacking
from tests.kept import copied

expect.set_options(timeout=PATIENCE_MS)

TABLET = (1280, 800)
KEY = "the same for every server, so that what one tablet remembers another may be handed"
PICTURES = Path(__file__).parent / "pictures"
KEEP_PICTURES = "SHOPFLOOR_SCREENSHOTS"
LEFT_THE_PAGE = "net::ERR_ABORTED"
"""What the browser says of a request that it gave up itself, as it does when a person leaves the page."""
NO_PICTURE_YET = "Unable to capture screenshot"
FAILED = pytest.StashKey[bool]()


@dataclass(frozen=True)
class Tablet:
    """A page of the browser's and what the browser complained about while it was open."""

    page: Page
    troubles: list[str]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever stands in this folder needs a browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Remember whether the test failed, so that a picture can be taken before the page is gone."""
    report = yield
    if call.when == "call":
        item.stash[FAILED] = report.failed
    return report


@pytest.fixture(scope="session")
def browser_path() -> str:
    """Where a Chromium is."""
    path = chromium.find()
    if path is None:
        lacking("no Chromium or Chrome to test with")
    return path or ""


@pytest.fixture(scope="session")
def browser(browser_path: str) -> Iterator[Browser]:
    """A Chromium without a window."""
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=browser_path, args=list(chromium.FLAGS), timeout=PATIENCE_MS)
        yield started
        started.close()


@pytest.fixture
def open_tablet(
    browser: Browser, live_server: str, request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[..., Tablet]]:
    """Opens one more tablet: `open_tablet(width, height, **options of the browser's context)`."""
    contexts: list[BrowserContext] = []
    tablets: list[Tablet] = []

    def open_one(width: int = TABLET[0], height: int = TABLET[1], **options: Any) -> Tablet:
        context = browser.new_context(
            **{"viewport": ViewportSize(width=width, height=height), "has_touch": True, **options}, base_url=live_server
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        tablets.append(watched(context.new_page()))
        return tablets[-1]

    yield open_one
    if request.node.stash.get(FAILED, False):
        photograph(tablets, tmp_path)
    for context in contexts:
        context.close()
    assert [] == [trouble for tablet in tablets for trouble in tablet.troubles]


def watched(page: Page) -> Tablet:
    """A page whose complaints are written down."""
    tablet = Tablet(page, [])
    write = tablet.troubles.append
    page.on(
        "console",
        lambda message: write(f"console: {message.text} {message.location}") if message.type == "error" else None,
    )
    page.on("pageerror", lambda error: write(f"script: {error}"))
    page.on("requestfailed", lambda request: write(described(request)) if gave_out(request) else None)
    return tablet


def gave_out(request: Request) -> bool:
    """Whether a request failed by no wish of the browser's own."""
    return request.failure != LEFT_THE_PAGE


def described(request: Request) -> str:
    """A failed request in words."""
    return f"request: {request.method} {request.url} {request.failure}"


def photograph(tablets: list[Tablet], folder: Path) -> None:
    """Keep what the screens showed when a test failed, and say where."""
    for number, tablet in enumerate(tablets, 1):
        path = folder / f"failed-{number}.png"
        take_picture(tablet.page, path, is_whole=True)
        sys.stderr.write(f"screen at the failure ({tablet.page.url}): {path}\n")


def take_picture(page: Page, path: Path, is_whole: bool = False) -> None:
    """Keep what a page looks like; a busy browser may have no picture ready and is asked again."""
    patience = time.monotonic() + PATIENCE_S
    while True:
        try:
            page.screenshot(path=path, full_page=is_whole)
            return
        except Error as error:
            if NO_PICTURE_YET not in error.message or time.monotonic() > patience:
                raise


@pytest.fixture
def tablet(open_tablet: Callable[..., Tablet]) -> Tablet:
    """The tablet lying on its side; the test fails for anything that its browser complains about."""
    return open_tablet()


@pytest.fixture
def page(tablet: Tablet) -> Page:
    """The page of the tablet."""
    return tablet.page


@pytest.fixture
def troubles(tablet: Tablet) -> list[str]:
    """What the browser complained about so far; a test that provokes a complaint checks it here and clears it."""
    return tablet.troubles


@pytest.fixture
def live_database(demo_database: Path, tmp_path: Path) -> str:
    """Address of a fresh copy of the demo database."""
    path = tmp_path / "demo.sqlite"
    address = copied(demo_database, path)
    LAST_OF_DEMO[address] = newest_run(path)
    return address


@pytest.fixture
def live_server(live_database: str, tmp_path: Path) -> Iterator[str]:
    """Address of a server of our own on a free port of this machine."""
    settings = Settings(database=live_database, data_folder=tmp_path / "instance", hosts=chromium.SERVER_NAME)
    with open_work(settings) as work:
        app = create_app(work)
        app.config.update(SECRET_KEY=KEY)
        app.after_request(as_patient)
        with answering(app) as port:
            yield f"http://127.0.0.1:{port}"


@pytest.fixture
def shot(page: Page) -> Callable[[str], Path]:
    """Takes the committed picture of that name anew: `shot("operator")`.

    Only where the environment has SHOPFLOOR_SCREENSHOTS=1: a picture costs time, and nobody looks at one of a test.
    """

    def take(name: str) -> Path:
        assert re.fullmatch(r"[a-z0-9-]+", name)
        path = PICTURES / f"{name}.png"
        if os.environ.get(KEEP_PICTURES) == "1":
            take_picture(page, path)
        return path

    return take
