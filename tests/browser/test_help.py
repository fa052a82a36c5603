"""The handbook in a real browser: legible for all, whole on every screen, and on the tablet without network."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from shopfloor.web.help.pages import AT_THE_STATION, KEPT, PAGES
from shopfloor.web.help.pictures import OF_THE_STATION
from tests.browser.conftest import Tablet
from tests.browser.network import go, nudge, quiet
from tests.browser.reading import SIZES, faults, is_wider_than_the_screen, shining, small_targets, until
from tests.browser.station_page import settle_in

OpenTablet = Callable[..., Tablet]
ADDRESSES = ["/help/", *(f"/operator/help-{name}" if name in KEPT else f"/help/{name}" for name in PAGES)]
HANDBOOK_IS_KEPT = """Promise.all([caches.open("shopfloor-pages-es"), caches.open("shopfloor-files")])
  .then((found) => Promise.all(found.map((cache) => cache.keys())))
  .then(([pages, files]) => pages.filter(({{ url }}) => url.includes("/help-")).length === {}
    && files.filter(({{ url }}) => url.endsWith(".webp")).length === {})"""
IS_SHOWN = "document.querySelector('.help-picture img').naturalWidth > 0"


@pytest.mark.parametrize(("language", "scheme"), [("en", "light"), ("es", "dark")])
def test_the_handbook_can_be_read_by_all(open_tablet: OpenTablet, language: str, scheme: str) -> None:
    """Nothing that axe finds, nothing too small for a finger, nothing that dazzles, on any page at any size."""
    page = open_tablet(locale={"en": "en-US", "es": "es-MX"}[language], color_scheme=scheme).page
    found: dict[str, list[str]] = {}
    for address in ADDRESSES:
        page.goto(address)
        found[address] = faults(page) + small_targets(page) + (shining(page) if scheme == "dark" else [])
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            found[address] += [f"wider than {width}"] if is_wider_than_the_screen(page) else []
    assert {} == {address: told for address, told in found.items() if told}


def test_the_stations_pages_open_without_network(open_tablet: OpenTablet) -> None:
    """Also those that were never opened, in the tablet's language, with their pictures."""
    tablet = open_tablet()
    page = tablet.page
    settle_in(page, "es")
    until(page, "navigator.serviceWorker.ready.then(() => true)")
    until(page, "navigator.serviceWorker.controller !== null")
    nudge(page)
    until(page, HANDBOOK_IS_KEPT.format(len(AT_THE_STATION.pages), len(OF_THE_STATION)))
    page.context.set_offline(True)
    page.get_by_role("link", name="Ayuda", exact=True).tap()
    for name in (one.name for one in AT_THE_STATION.pages if one.name != "who"):
        go(page, f"/operator/help-{name}")
        expect(page.locator("html")).to_have_attribute("lang", "es")
        page.locator(".help-picture img").scroll_into_view_if_needed()
        until(page, IS_SHOWN)
    quiet(page, tablet.troubles)
