"""The first page, and naming what the shop has, on three screens, by keyboard and without a script."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.reading import SIZES, faults, is_wider_than_the_screen, small_targets
from tests.browser.station_page import OpenTablet

LISTS = ["/setup/people", "/setup/stations", "/setup/materials", "/setup/jobs"]
CHANGES = ["/setup/people/femi/change", "/setup/stations/arm-1/change"]
PAGES = ["/", "/new", "/setup/", "/setup/codes", *LISTS, *CHANGES]


def test_the_start_page_tells_what_is_behind_each_link(page: Page, shot: Callable[[str], Path]) -> None:
    """A figure with its evidence on each, all on one screen."""
    page.goto("/")
    links = page.locator(".link-tile")
    expect(links).to_have_count(3)
    for link, evidence in zip(links.all(), ["Last batch", "in service", "interval"], strict=True):
        expect(link.locator(".figure").first).to_have_text(re.compile(r"^[\d.,]+$"))
        expect(link).to_contain_text(evidence)
        expect(link).to_be_in_viewport(ratio=1)
    shot("start")


def test_the_whole_tile_is_touched(page: Page) -> None:
    """A thumb anywhere on it opens it."""
    page.goto("/")
    place = page.locator(".link-tile", has_text="Quality").locator(".evidence").bounding_box()
    assert place is not None
    page.touchscreen.tap(place["x"] + place["width"] - 5, place["y"] + 5)
    expect(page).to_have_url(re.compile("/quality/$"))


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_page_fits_every_screen(open_tablet: OpenTablet, width: int, height: int) -> None:
    """No page is wider than its screen, everything can be read and touched."""
    page = open_tablet(width, height).page
    for address in PAGES:
        page.goto(address)
        assert not is_wider_than_the_screen(page), address
        assert [] == small_targets(page), address
        assert [] == faults(page), address


def test_a_station_is_named_by_keyboard_alone(page: Page, troubles: list[str], shot: Callable[[str], Path]) -> None:
    """What is missing is told first, with the focus on it; a way leads to the field; typed values stay."""
    page.goto("/setup/stations")
    page.get_by_label("Name").focus()
    page.keyboard.type("Bench arm")
    page.keyboard.press("Enter")
    expect(page).to_have_title(re.compile("^Error: Stations"))
    expect(page.locator("#error-summary")).to_be_focused()
    assert ["400" in trouble for trouble in troubles] == [True]
    troubles.clear()
    shot("setup-stations")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Short code")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Short code")).to_be_focused()
    page.keyboard.type("bench-1")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    for speed in ("100", "400"):
        page.keyboard.press("Tab")
        page.keyboard.type(speed)
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_have_text("Added: bench-1")
    expect(page.get_by_role("row", name="bench-1")).to_contain_text("Bench arm")


def test_a_job_is_closed_and_opened_without_a_script(open_tablet: OpenTablet) -> None:
    """Plain forms; the state stands in words."""
    page = open_tablet(java_script_enabled=False).page
    page.goto("/setup/jobs")
    row = page.get_by_role("row", name="J-1001")
    expect(row).to_contain_text("Open")
    row.get_by_role("button").click()
    expect(page.get_by_role("status")).to_have_text("Closed: J-1001")
    page.get_by_role("row", name="J-1001").get_by_role("button", name="Open again").click()
    expect(page.get_by_role("row", name="J-1001").locator(".state")).to_have_text("Open")
