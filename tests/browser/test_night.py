"""By night: every area of the pages is dark and legible, charts too, and what is printed is dark on white."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopfloor.web.drawing.charts import INK, NIGHT, PAPER
from tests.browser.charts import LIFE, open_chart
from tests.browser.network import PAGE_IS_KEPT
from tests.browser.reading import faults, is_dark, shining, until
from tests.browser.station_page import STATION, Finger, OpenTablet, settle
from tests.contrast import contrast

PAGES = ["/", "/crib/", "/crib/labels", "/quality/incidents", "/setup/jobs", "/setup/access/"]
CHART_INK = "document.querySelector('.xtick text').style.fill"
ON_PAPER = """({ body: getComputedStyle(document.body).color, ground: getComputedStyle(document.body).backgroundColor,
  scheme: getComputedStyle(document.documentElement).colorScheme })"""


@pytest.fixture
def night(open_tablet: OpenTablet) -> Page:
    """A tablet that is set to dark."""
    return open_tablet(color_scheme="dark").page


def rgb(colour: str) -> str:
    """#rrggbb as a browser tells it."""
    return f"rgb({', '.join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5))})"


@pytest.mark.parametrize("address", PAGES)
def test_no_page_dazzles(night: Page, address: str) -> None:
    """Dark all over, and axe finds nothing."""
    night.goto(address)
    assert is_dark(night)
    assert [] == shining(night) + faults(night)


@pytest.mark.parametrize("address", ["/quality/", LIFE])
def test_a_chart_does_not_dazzle(night: Page, address: str) -> None:
    """Paper and ink of the night; both change with the tablet while the page is open."""
    open_chart(night, address)
    assert [] == shining(night) + faults(night)
    assert rgb(NIGHT[INK]) == night.evaluate(CHART_INK)
    night.emulate_media(color_scheme="light")
    until(night, f"{CHART_INK} === '{rgb(INK)}'")
    assert not is_dark(night)


def test_a_broken_tap_and_counting_do_not_dazzle(night: Page) -> None:
    """The incident of a break, and the large area for each hole."""
    settle(night)
    finger = Finger(night)
    finger.button("Count live")
    expect(night.locator("#counting")).to_be_visible()
    assert [] == shining(night) + faults(night)
    night.goto(STATION)
    finger.tile("Broken")
    assert [] == shining(night) + faults(night)


def test_a_chosen_tile_is_told_by_more_than_its_colour(night: Page) -> None:
    """A check mark, and a border that stands out from what it is filled with by 3:1."""
    settle(night)
    chosen = night.locator(".tile:has(input:checked)").first
    look = "(tile) => [getComputedStyle(tile).borderTopColor, getComputedStyle(tile).backgroundColor]"
    border, ground = (hexed(colour) for colour in chosen.evaluate(look))
    assert contrast(border, ground) >= 3
    assert "solid" in chosen.evaluate("(tile) => getComputedStyle(tile, '::after').borderStyle")


def hexed(colour: str) -> str:
    """A browser's rgb(r, g, b) as #rrggbb."""
    return "#" + "".join(f"{int(part):02x}" for part in colour[4:-1].split(","))


def test_paper_is_white_by_night(night: Page) -> None:
    """What is printed is as by day: dark on white, no dark ground."""
    settle(night)
    night.goto(f"{STATION}card")
    night.emulate_media(media="print", color_scheme="dark")
    printed = night.evaluate(ON_PAPER)
    assert {"body": rgb(INK), "ground": "rgba(0, 0, 0, 0)", "scheme": "light"} == printed
    assert rgb(PAPER) == night.locator(".hole").evaluate("(hole) => getComputedStyle(hole).backgroundColor")


def test_a_chart_is_printed_as_by_day(night: Page) -> None:
    """Its ink is dark on paper, and light again on the screen."""
    open_chart(night, "/quality/")
    night.evaluate(f"addEventListener('beforeprint', () => (window.printed = {CHART_INK}))")
    night.pdf()
    assert rgb(INK) == night.evaluate("window.printed")
    until(night, f"{CHART_INK} === '{rgb(NIGHT[INK])}'")


LOOKS = {"As the tablet": "tablet", "Light": "light", "Dark": "dark"}


def choose(page: Page, name: str) -> None:
    """Choose how pages look, beside the choice of language."""
    page.locator(".top-look summary").tap()
    page.get_by_role("link", name=name, exact=True).tap()
    expect(page.locator("html")).to_have_attribute("data-look", LOOKS[name])


@pytest.mark.parametrize(("tablet", "chosen"), [("light", "Dark"), ("dark", "Light")])
def test_a_choice_goes_before_the_tablets_setting(open_tablet: OpenTablet, tablet: str, chosen: str) -> None:
    """On every page and in charts, until the tablet is to decide again; axe finds nothing."""
    page = open_tablet(color_scheme=tablet).page
    open_chart(page, "/quality/")
    choose(page, chosen)
    open_chart(page, "/quality/")
    is_night = chosen == "Dark"
    assert is_night == is_dark(page)
    assert rgb(NIGHT[INK] if is_night else INK) == page.evaluate(CHART_INK)
    assert [] == faults(page) + (shining(page) if is_night else [])
    settle(page)
    assert is_night == is_dark(page)
    assert [] == faults(page) + (shining(page) if is_night else [])
    choose(page, "As the tablet")
    assert is_night != is_dark(page)


def test_a_choice_needs_no_script(open_tablet: OpenTablet) -> None:
    """The server draws the page as chosen."""
    page = open_tablet(java_script_enabled=False).page
    page.goto("/crib/")
    choose(page, "Dark")
    expect(page.locator("body")).to_have_css("background-color", rgb("#0e161a"))


def test_a_kept_page_looks_as_chosen_last(open_tablet: OpenTablet) -> None:
    """Without network, although it was kept before the choice, and not renewed since."""
    tablet = open_tablet(color_scheme="light")
    page = tablet.page
    settle(page)
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "navigator.serviceWorker.controller !== null")
    page.goto(STATION)
    until(page, PAGE_IS_KEPT)
    page.context.add_cookies([{"name": "look", "value": "dark", "url": page.url}])
    page.context.set_offline(True)
    page.goto(STATION)
    expect(page.locator("html")).to_have_attribute("data-look", "dark")
    assert is_dark(page)
    assert [] == shining(page)
    tablet.troubles.clear()
