"""What scrolls within a page can be scrolled by the keyboard; every page in each language as axe sees it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.browser.reading import faults, until
from tests.browser.station_page import OpenTablet

PAGES = (
    *("/crib/", "/crib/orders", "/crib/taps", "/crib/receive", "/crib/labels", "/crib/taps/T0353", "/crib/taps/T0002"),
    *("/quality/", "/quality/incidents", "/quality/life", "/setup/", "/setup/jobs", "/setup/people", "/setup/access/"),
    *("/setup/stations", "/setup/materials", "/new", "/operator/arm-1/card"),
)
WHOLE, SCROLLED = (1280, 800), (1000, 800)
"""On the second screen tables are not cards yet, and wide ones scroll. On the first, other tests look at pages in
English."""
SCROLLING = """[...document.querySelectorAll("main *")].filter((each) =>
  each.scrollWidth > each.clientWidth + 1 && ["auto", "scroll"].includes(getComputedStyle(each).overflowX)
  && each.clientWidth > 1)"""
UNREACHED = f"""{SCROLLING}.filter((each) => each.tabIndex !== 0 || !each.getAttribute("aria-label"))
  .map((each) => each.outerHTML.slice(0, 120))"""


@pytest.mark.parametrize(("language", "looked_at"), [("en", SCROLLED), ("es", WHOLE)])
def test_whatever_scrolls_is_reached_by_the_keyboard(
    open_tablet: OpenTablet, language: str, looked_at: tuple[int, int]
) -> None:
    """It takes the focus under a name, and axe finds nothing on any page."""
    page = open_tablet(*WHOLE).page
    page.goto(f"/language/{language}?back=/crib/")
    scrolling = 0
    for address in PAGES:
        assert 200 == visited(page, address), address
        for size in (WHOLE, SCROLLED):
            page.set_viewport_size({"width": size[0], "height": size[1]})
            until(page, f"{UNREACHED}.length === 0")
            assert size != looked_at or [] == faults(page), (address, size)
        scrolling += page.evaluate(f"{SCROLLING}.length")
    assert scrolling


def visited(page: Page, address: str) -> int | None:
    """Go there; what the server answered."""
    answer = page.goto(address)
    return answer.status if answer else None


def test_a_table_that_fits_is_no_stop_on_the_way(page: Page) -> None:
    """Only what scrolls is stopped at: the same table on a wider screen is not."""
    page.set_viewport_size({"width": 1000, "height": 800})
    page.goto("/crib/taps/T0353")
    until(page, "document.querySelectorAll('.table-wrap[tabindex]').length > 0")
    page.set_viewport_size({"width": 2400, "height": 800})
    until(page, "document.querySelectorAll('.table-wrap[tabindex]').length === 0")
