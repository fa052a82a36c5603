"""A batch that goes on with another tap, its rest made without network."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.network import STATUS, cut, keeps, quiet, restore
from tests.browser.reading import lifted
from tests.browser.record import stored
from tests.browser.station_page import Finger, settle

SAVE = "Save for Ada K."


@pytest.fixture
def finger(page: Page, live_database: str) -> Finger:
    """A finger at a station whose tap broke at hole 27 of 48; another one is in, and 21 holes are left to make."""
    settle(page)
    keeps(page)
    finger = Finger(page)
    finger.touch(page.locator("[data-fill]"))
    finger.tile("Broken")
    for key in "27":
        finger.button(key)
    finger.tile("Part scrapped")
    finger.save()
    finger.touch(page.locator("button[name=tap_type]").first)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("21")
    return finger


@pytest.mark.parametrize("is_reloaded", [False, True], ids=["open", "reloaded"])
def test_the_rest_is_not_offered_again(
    page: Page, finger: Finger, troubles: list[str], live_database: str, is_reloaded: bool
) -> None:
    """The server hears that the batch is over, and tells of the rest alone."""
    cut(page)
    finger.button(SAVE)
    expect(page.get_by_text("On this tablet: 21 holes on")).to_be_visible()
    lifted(page)
    if is_reloaded:
        page.reload()
        expect(page.get_by_text("The server does not answer")).to_be_visible()
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    expect(page.locator(".told")).to_contain_text("Saved: 21 holes on")
    expect(page.locator("[data-fill]")).to_contain_text("as last time")
    expect(page.get_by_label("Holes", exact=True)).to_have_value("")
    assert [27, 21] == stored(live_database)
    quiet(page, troubles)
