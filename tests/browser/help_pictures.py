"""Take the handbook's pictures from the demo: `python -m tests.browser.help_pictures`, or `... es` for one language.

They go to `shopfloor/web/static/help/LANGUAGE`. The demo ends today, so figures differ from one day to the next.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import Locator, Page, ViewportSize, sync_playwright

from shopfloor.app import create_app
from shopfloor.cli.options import open_work
from shopfloor.services.access import tablets
from shopfloor.services.access.credentials import first_supervisor, give_secret
from shopfloor.services.access.rules import use_pins
from shopfloor.services.record.work import Work
from shopfloor.settings import LANGUAGES, Settings
from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.help.pictures import file_of
from tests.answering import answering
from tests.browser import chromium
from tests.browser.charts import LIFE, open_chart
from tests.browser.reading import lifted, until
from tests.browser.station_page import SAVE_IN, STATION, settle_in
from tests.kept import make_demo

SCREEN = ViewportSize(width=1180, height=820)
QUALITY = 50
WIDEST = 1000
TOP_OF_PAGE = 560
PIN, PASSWORD = "271828", "seven-blunt-taps"
PLAIN_PAGES = {
    "crib-board": "/crib/",
    "orders": "/crib/orders",
    "receive": "/crib/receive",
    "labels": "/crib/labels",
    "incidents": "/quality/incidents",
    "set-up": "/setup/",
    "who": f"{STATION}person",
}
"""Pictures of the upper part of a page, as it comes."""


def take_all(languages: Sequence[str]) -> None:
    """Every picture in these languages."""
    with TemporaryDirectory() as folder, sync_playwright() as driver:
        database = Path(folder) / "demo.sqlite"
        make_demo(database)
        settings = Settings(database=f"sqlite:///{database.as_posix()}", data_folder=Path(folder))
        browser = driver.chromium.launch(executable_path=chromium.find(), args=list(chromium.FLAGS))
        with open_work(settings) as work, answering(create_app(work)) as port:
            address = f"http://127.0.0.1:{port}"
            for language in languages:
                context = browser.new_context(viewport=SCREEN, has_touch=True, base_url=address)
                take_language(context.new_page(), language)
                context.close()
            with_pins(work)
            for language in languages:
                context = browser.new_context(viewport=SCREEN, has_touch=True, base_url=address)
                _, token = tablets.enrol(work, f"Arm {language}", "femi")
                context.add_cookies([{"name": "shopfloor-tablet", "value": token, "url": address, "httpOnly": True}])
                page = context.new_page()
                page.goto(f"/language/{language}?back=/operator/who/pin%3Fperson=ada")
                keep(page.locator("main"), "pin", language, 440)
                context.close()
        browser.close()


def take_language(page: Page, language: str) -> None:
    """All pictures that need no PIN."""
    settle_in(page, language)
    keep(page.locator("main"), "station", language)
    page.locator("label.tile:has(input[value=broken])").tap()
    keep(page.locator(".incident"), "broken-tap", language)
    page.goto(STATION)
    lifted(page)
    page.locator("[data-fill]").tap()
    page.get_by_role("button", name=SAVE_IN[language]).tap()
    page.wait_for_url("**saved=**")
    page.goto(f"{STATION}entries")
    keep(page.locator("main"), "entries", language, 380)
    for name, address in PLAIN_PAGES.items():
        page.goto(address)
        keep(page.locator("main"), name, language, TOP_OF_PAGE)
    page.goto("/crib/")
    page.goto(page.locator(".crib-board th a").first.get_attribute("href") or "")
    keep(page.locator("main"), "tap", language, TOP_OF_PAGE)
    for name, address in {"quality-board": "/quality/", "life": LIFE}.items():
        open_chart(page, address)
        keep(page.locator("main"), name, language, 760)
    take_without_network(page, language)


def take_without_network(page: Page, language: str) -> None:
    """What a tablet shows while the server is away, and the window for a code."""
    page.goto(STATION)
    until(page, "navigator.serviceWorker.controller !== null")
    page.locator("[data-scan-open]").first.tap()
    keep(page.locator("#question"), "scan", language)
    page.locator("[data-question-close]").tap()
    page.context.set_offline(True)
    lifted(page)
    page.locator("[data-fill]").tap()
    page.get_by_role("button", name=SAVE_IN[language]).tap()
    until(page, "document.querySelector('[data-kept-status]').textContent.includes('1 ')")
    keep(page.locator("body"), "offline", language)
    page.context.set_offline(False)


def with_pins(work: Work) -> None:
    """Put PINs into use: Femi is the supervisor, Ada has hers."""
    first_supervisor(work, {"person": "femi", "secret": PASSWORD, "again": PASSWORD})
    give_secret(work, {"person": "ada", "secret": PIN, "again": PIN})
    use_pins(work, is_in_use=True)


def keep(place: Locator, name: str, language: str, height: int = 2000) -> None:
    """Keep the upper part of what is shown there as a small picture."""
    shot = Image.open(BytesIO(place.screenshot(animations="disabled")))
    part = shot.crop((0, 0, shot.width, min(height, shot.height))).convert("RGB")
    part.thumbnail((WIDEST, height))
    path = STATIC / file_of(name, language)
    path.parent.mkdir(parents=True, exist_ok=True)
    part.save(path, "WEBP", quality=QUALITY, method=6)
    sys.stdout.write(f"{path.relative_to(STATIC)}: {path.stat().st_size / 1000:.0f} kB\n")
    sys.stdout.flush()


if __name__ == "__main__":
    take_all(sys.argv[1:] or list(LANGUAGES))
