"""The quality lead's pages in a real browser: charts drawn, tables beside them, readable by all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.charts import LIFE, open_chart
from tests.browser.conftest import Tablet
from tests.browser.reading import faults, is_wider_than_the_screen, small_targets, until

PAGES = ["/quality/", "/quality/incidents", "/quality/life"]


def traces(page: Page) -> int:
    """How many traces the chart has drawn."""
    return int(
        page.evaluate("document.querySelector('[data-chart]')._fullData.filter((t) => t.visible === true).length")
    )


def test_the_board_draws_a_heat_map_beside_its_table(page: Page, shot: Callable[[str], Path]) -> None:
    """Colours and their texts; the table holds a row for each place."""
    open_chart(page, "/quality/")
    assert 2 == traces(page)
    cells = page.evaluate(
        "document.querySelector('[data-chart]')._fullData[1].text.filter((t) => t !== 'no holes').length"
    )
    assert cells == page.locator("table.rates tbody tr").count() > 10
    shot("quality-board")


def test_the_life_page_draws_both_curves_beside_its_tables(page: Page, shot: Callable[[str], Path]) -> None:
    """Step curve with band, fit with band, the fit beyond the data, failures and survivors."""
    open_chart(page, LIFE)
    assert 7 == traces(page)
    assert 5 == page.locator("table").count()
    shot("quality-life")


def test_the_incidents_show_where_to_look(page: Page, shot: Callable[[str], Path]) -> None:
    """A bar for each cause; a touch on one shows its incidents."""
    page.goto("/quality/incidents")
    page.get_by_role("link", name="Chips packed").click()
    expect(page.get_by_role("heading", level=2)).to_contain_text("chips packed")
    shot("quality-incidents")


def test_the_lists_follow_each_other(page: Page) -> None:
    """A new tap type starts the other lists anew; the page follows at once."""
    page.goto("/quality/life?tap_type=M8+spiral+point+Delta&material=structural+steel")
    page.get_by_label("Tap type").select_option("M6 forming North")
    page.wait_for_url("**tap_type=M6+forming+North**")
    expect(page.get_by_label("Material", exact=True)).to_have_value("")
    expect(page.locator(".finding")).to_contain_text("M6 forming North in any material")


@pytest.mark.parametrize("address", PAGES)
def test_a_page_can_be_used_by_all(page: Page, address: str) -> None:
    """Nothing to stumble over, with the chart drawn; wide tables and charts scroll inside their frame at any width."""
    page.goto(address)
    if page.locator("[data-chart]").count():
        open_chart(page, address)
    assert [] == faults(page)
    for width in (390, 800, 1280):
        page.set_viewport_size({"width": width, "height": 1280})
        until(page, f"document.documentElement.scrollWidth === {width}")


def test_without_script_the_table_says_the_same(open_tablet: Callable[..., Tablet]) -> None:
    """The chart's place says where to look."""
    page = open_tablet(java_script_enabled=False).page
    page.goto("/quality/")
    expect(page.locator(".chart-waiting")).to_contain_text("read the table")
    assert page.locator("table.rates tbody tr").count() > 10


def test_a_printed_chart_fits_the_paper(page: Page) -> None:
    """Drawn anew for a page on its side, and for the screen afterwards."""
    open_chart(page, "/quality/")
    page.evaluate(
        "addEventListener('beforeprint', () => (window.printed = document.querySelector('.main-svg').clientWidth))"
    )
    page.pdf()
    assert 960 == page.evaluate("window.printed")
    expect(page.locator(".main-svg").first).not_to_have_attribute("width", "960")


def test_the_story_of_a_break_is_put_right(open_tablet: Callable[..., Tablet]) -> None:
    """From the list to the break and its forms, which fit the screen."""
    page = open_tablet(800, 1280).page
    page.goto("/quality/incidents")
    page.locator(".to-incident").first.click()
    expect(page.get_by_label("Why?").first).to_be_visible()
    assert not is_wider_than_the_screen(page)
    assert [] == small_targets(page)
    assert [] == faults(page)
    form = page.locator("form", has=page.get_by_role("button", name="Save the correction"))
    form.get_by_label("Likely cause").select_option("Out of line")
    form.get_by_label("Who changes it").select_option("hana")
    form.get_by_label("Why?").fill("looked at the scrap")
    form.get_by_role("button").click()
    expect(page.locator(".told")).to_contain_text("Out of line")
    expect(page.locator(".struck").first).to_be_visible()
