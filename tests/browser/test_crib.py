"""The crib's pages on a tablet, with the demo's log."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Tablet
from tests.browser.reading import SIZES, faults, is_wider_than_the_screen, small_targets

TYPE = "/crib/types/M10 spiral point North/change"
PAGES = ["/crib/", "/crib/orders", "/crib/taps", "/crib/receive", "/crib/types", "/crib/types/new", TYPE]


def test_the_board_is_ready_at_a_glance(page: Page, shot: Callable[[str], Path]) -> None:
    """The first line tells what is due; the first taps are on the screen without scrolling."""
    page.goto("/crib/")
    expect(page.locator(".lead")).to_contain_text("to change now")
    expect(page.locator("tbody tr").nth(1)).to_be_in_viewport()
    assert [] == faults(page)
    shot("crib")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_page_fits_every_screen(open_tablet: Callable[..., Tablet], width: int, height: int) -> None:
    """No page is wider than its screen, and everything can be touched."""
    page = open_tablet(width, height).page
    for address in PAGES:
        page.goto(address)
        assert not is_wider_than_the_screen(page)
        assert [] == small_targets(page)
        assert [] == faults(page)


def test_the_filter_and_the_other_order_work_without_a_script(open_tablet: Callable[..., Tablet]) -> None:
    """Plain forms: choose, then show."""
    page = open_tablet(java_script_enabled=False).page
    page.goto("/crib/")
    page.get_by_label("Station").select_option("arm-1")
    page.get_by_label("Sorted by").select_option("change")
    page.get_by_role("button", name="Show").click()
    assert page.url.endswith("/crib/?station=arm-1&sort=change")
    assert {"arm-1"} == set(page.locator("td[data-label='Works at'] strong").all_inner_texts())


def test_a_gauge_check_is_kept_on_the_page_of_a_tap(page: Page, shot: Callable[[str], Path]) -> None:
    """From the board to a tap, a check passed, and there it stands."""
    page.goto("/crib/")
    page.locator(".crib-code").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Tap T")
    assert [] == faults(page)
    assert [] == small_targets(page)
    shot("tap")
    form = page.locator("form", has=page.get_by_role("button", name="Save the check"))
    form.get_by_label("Passed").check()
    form.get_by_label("Who books this").select_option("hana")
    form.get_by_role("button").click()
    expect(page.locator(".crib-list").first).to_contain_text("Passed")


def test_the_order_list_leads_to_the_ledger(page: Page, shot: Callable[[str], Path]) -> None:
    """What to order with its reason, then the movements that it rests on."""
    page.goto("/crib/orders")
    expect(page.locator(".crib-why").first).to_contain_text("in the crib")
    shot("orders")
    page.locator(".crib-type").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Stock of")
    assert [] == faults(page)
    assert [] == small_targets(page)


@pytest.mark.parametrize("size", SIZES)
def test_a_wrong_movement_is_cancelled_from_the_page_of_its_tap(
    open_tablet: Callable[..., Tablet], size: tuple[int, int]
) -> None:
    """The page of the entry fits the screen; then the entry stands struck in the tap's log, with the reason."""
    page = open_tablet(*size).page
    page.goto("/crib/receive")
    page.get_by_label("Tap type").select_option(index=1)
    code = f"NEW-{size[0]}"
    page.get_by_label("Codes, one a line").fill(code)
    page.get_by_label("Who books this").select_option("hana")
    page.locator("form", has=page.get_by_label("Codes, one a line")).get_by_role("button").click()
    expect(page.get_by_role("status")).to_be_visible()
    page.goto(f"/crib/taps/{code}")
    page.get_by_role("link", name="Correct or cancel Received").click()
    expect(page.get_by_role("button", name="Cancel this entry")).to_be_visible()
    assert not is_wider_than_the_screen(page)
    assert [] == small_targets(page)
    assert [] == faults(page)
    form = page.locator("form", has=page.get_by_role("button", name="Cancel this entry"))
    form.get_by_label("Why?").fill("typed the wrong code")
    form.get_by_role("button").click()
    expect(page.locator(".struck")).to_contain_text("Received")
    expect(page.get_by_text("Cancelled 20")).to_contain_text("typed the wrong code")
    assert [] == faults(page)
