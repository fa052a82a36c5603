"""The set-up card on a tablet and on paper; threads offered while one is typed."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.reading import SIZES, faults
from tests.browser.station_page import FLOOR_PX, IN_THE_PAGE, STATION, TOUCHED, OpenTablet, opened, settle, small

CARD = f"{STATION}card"
EVERYTHING_WRONG = """UPDATE job SET is_blind = 1, depth_mm = 22, drill_depth_mm = 20, hole_making = 'plasma cut',
    is_chamfered = 0, is_reamed = 0, drilled_mm = 7.7, planned_rpm = 500 WHERE code = 'J-1031'"""
"""No job of the demo has more warnings: too shallow, thermal cut, too full, too fast, chips, a weak station."""


def sheets(page: Page, paper: str) -> int:
    """How many sheets of paper the page takes."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format=paper)))


def test_one_touch_leads_from_the_station_to_the_card(page: Page, shot: Callable[[str], Path]) -> None:
    """And one back."""
    settle(page, "J-1003")
    page.get_by_role("link", name="Set-up card").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Set-up card: 3/8-16 UNC in Structural steel")
    expect(page.get_by_text("Hole is laser cut and not reamed")).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("to scale"))).to_be_visible()
    shot("set-up-card")
    page.get_by_role("link", name="To the station").tap()
    expect(page.get_by_role("button", name="Save for Ada K.")).to_be_visible()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_card_is_printed_on_one_sheet(page: Page, live_database: str, paper: str) -> None:
    """An ordinary one, and one with every warning that a job can have."""
    with closing(sqlite3.connect(live_database.removeprefix("sqlite:///"))) as record:
        record.execute(EVERYTHING_WRONG)
        record.execute("UPDATE station SET torque_nm = 9 WHERE code = 'arm-1'")
        record.commit()
    page.goto(f"{CARD}?job=J-1003")
    assert 1 == sheets(page, paper)
    page.goto(f"{CARD}?job=J-1031")
    assert 7 <= page.locator(".card-warnings li").count()
    assert 1 == sheets(page, paper)


def test_printing_is_offered_where_a_script_can(open_tablet: OpenTablet) -> None:
    """Without one the button is not there, and the card says the same."""
    for has_script in (True, False):
        page = open_tablet(java_script_enabled=has_script).page
        page.goto(f"{CARD}?job=J-1003")
        assert has_script == page.get_by_role("button", name="Print").is_visible()
        expect(page.get_by_text("Clutch between")).to_be_visible()


@pytest.mark.parametrize("size", [*SIZES, (320, 640)])
def test_the_card_fits_every_screen(open_tablet: OpenTablet, size: tuple[int, int]) -> None:
    """Nothing scrolls sideways, what is touched is large, and axe finds nothing."""
    page = open_tablet(*size).page
    opened(page, f"{CARD}?job=J-1014", IN_THE_PAGE)
    assert size[0] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == small(page, TOUCHED, FLOOR_PX)
    assert [] == faults(page)


@pytest.mark.parametrize(
    ("typed", "offered"), [(".250-20", "1/4-20 UNC"), ("half inch", "1/2-13 UNC"), ("M10x1.2", "M10x1.25")]
)
def test_threads_are_offered_while_one_is_typed(page: Page, typed: str, offered: str) -> None:
    """The browser's own list gets what the text may become; empty again, it holds every thread."""
    page.goto("/setup/jobs")
    field, options = page.get_by_label("Thread", exact=True), page.locator("#threads option")
    every = options.count()
    field.press_sequentially(typed)
    expect(options.first).to_have_attribute("value", offered)
    assert options.count() <= 8 < every
    field.fill("")
    expect(options).to_have_count(every)
