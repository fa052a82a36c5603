"""Whoever has set the browser's text larger sees larger text, and the station page holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, ViewportSize

from tests.browser import chromium
from tests.browser.patience import PATIENCE_MS
from tests.browser.reading import TABLETS
from tests.browser.station_page import SAVE_IN, STATION, settle_in

TEXT_SIZES = [16, 20, 24]
PAGES = ("/", "/operator/", STATION, f"{STATION}card", "/crib/", "/quality/", "/setup/jobs")
SIZE_OF = "selector => parseFloat(getComputedStyle(document.querySelector(selector)).fontSize)"
OVERLAPPING = """() => {
  const seen = [...document.querySelectorAll("main :is(a, button, summary, select, textarea, label.tile, legend), "
    + "main input:not([type=hidden]), .life-bar, .tap-holes, .advice, .risk")]
    .filter((each) => each.checkVisibility({ visibilityProperty: true }))
    .filter((each) => !each.matches(".tile input, .take-photograph input"))
    .map((each) => [each, each.getBoundingClientRect()]);
  const apart = 1;
  const lie = (one, other) => one.left + apart < other.right && other.left + apart < one.right
    && one.top + apart < other.bottom && other.top + apart < one.bottom;
  return seen.flatMap(([one, box], at) => seen.slice(at + 1)
    .filter(([other, its]) => !one.contains(other) && !other.contains(one) && lie(box, its))
    .map(([other]) => `${one.outerHTML.slice(0, 90)} AND ${other.outerHTML.slice(0, 90)}`));
}"""
"""Pairs of things that are touched or read of which one lies over the other."""
SPILLING = """() => [...document.querySelectorAll(
    ".station .tile span, .portion span, .pick strong, .key, .save, .count-live")]
  .filter((each) => each.checkVisibility())
  .filter((each) => {
    const around = each.closest(".tile, .portion, .pick, button").getBoundingClientRect();
    const words = document.createRange();
    words.selectNodeContents(each);
    const { left, right } = words.getBoundingClientRect();
    return left < around.left - 1 || right > around.right + 1;
  }).map((each) => each.outerHTML.slice(0, 90))"""
"""Words that do not fit what they stand in."""


@pytest.fixture(params=TEXT_SIZES)
def enlarged(request: pytest.FixtureRequest, browser: Browser, browser_path: str) -> Iterator[tuple[int, Browser]]:
    """A Chromium in which somebody has chosen the size of text."""
    size: int = request.param
    arguments = [*chromium.FLAGS, f"--blink-settings=defaultFontSize={size}"]
    started = browser.browser_type.launch(executable_path=browser_path, args=arguments)
    yield size, started
    started.close()


def opened(browser: Browser, server: str, size: tuple[int, int]) -> Page:
    """A page of a tablet of that size."""
    width, height = size
    context = browser.new_context(viewport=ViewportSize(width=width, height=height), has_touch=True, base_url=server)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    return page


def fits(page: Page, size: tuple[int, int]) -> None:
    """Nothing lies over anything else, nothing spills out, nothing is beyond the screen's side."""
    told = f"{size} {page.locator('html').get_attribute('lang')}"
    assert [] == page.evaluate(OVERLAPPING), told
    assert [] == page.evaluate(SPILLING), told
    assert size[0] >= page.evaluate("document.documentElement.scrollWidth"), told


@pytest.mark.parametrize("language", [*SAVE_IN])
def test_the_station_page_holds_at_any_size_of_text(
    enlarged: tuple[int, Browser], live_server: str, language: str
) -> None:
    """Text is as large as was asked for, Save is wholly in sight, tap and keypad stay apart."""
    text, browser = enlarged
    for size in TABLETS:
        page = opened(browser, live_server, size)
        settle_in(page, language)
        sizes = [page.evaluate(SIZE_OF, selector) for selector in ("body", ".key", ".save", ".pick strong", ".advice")]
        assert min(sizes) >= max(text, 18)
        assert is_in_sight(page.get_by_role("button", name=SAVE_IN[language]).bounding_box(), size), size
        fits(page, size)
        page.locator("label.tile:has(input[value=broken])").tap()
        fits(page, size)
        page.context.close()


def is_in_sight(box: Any, size: tuple[int, int]) -> bool:
    """Whether one needs not scroll to see the whole of it."""
    return bool(box["y"] >= 0 and box["y"] + box["height"] <= size[1] and box["x"] + box["width"] <= size[0])


def test_text_grows_as_it_is_asked_for(browser: Browser, browser_path: str, live_server: str) -> None:
    """On the first page of each area: the body's text, and what heads the page."""
    found: list[list[float]] = []
    for text in TEXT_SIZES:
        arguments = [*chromium.FLAGS, f"--blink-settings=defaultFontSize={text}"]
        started = browser.browser_type.launch(executable_path=browser_path, args=arguments)
        page = opened(started, live_server, (1280, 800))
        settle_in(page, "en")
        found.append([])
        for address in PAGES:
            page.goto(address)
            found[-1] += [page.evaluate(SIZE_OF, "body"), page.evaluate(SIZE_OF, "h1")]
            assert page.evaluate("document.documentElement.scrollWidth") <= 1280, (text, address)
        started.close()
    small, middle, large = found
    assert all(one < other < another for one, other, another in zip(small, middle, large, strict=True))
    assert all(each >= 24 for each in large)
