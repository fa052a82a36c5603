"""Nothing moves under a finger: whatever the station page tells, each thing that is touched stays where it is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.network import cut, keeps, log, nudge, restore
from tests.browser.reading import TABLETS, lifted, until
from tests.browser.station_page import SAVE, SAVE_IN, STATION, Finger, OpenTablet, settle, settle_in
from tests.pictures import picture

PHONE = (390, 844)
MOST_OF_THEM = 20
"""A page on which fewer are found was not looked at well."""
PLACES = """() => [...document.querySelectorAll("a, button, summary, select, textarea, label.tile, input")]
  .filter((each) => each.type !== "hidden" && each.checkVisibility({ visibilityProperty: true }))
  .filter((each) => !each.closest(".told, #at-save, dialog, [data-photographs-list]"))
  .filter((each) => !each.matches(".hidden-label, .skip, .tile input, [data-kept-status], .take-photograph input"))
  .map((each) => {
    const { x, y, width, height } = each.getBoundingClientRect();
    const name = each.id || each.name || each.dataset.key || each.htmlFor || each.className || each.tagName;
    return `${name} ${[x, y + scrollY, width, height].map(Math.round).join(" ")}`;
  })"""
"""Each thing that is touched and where it is, but for what the page tells with its ways out."""


def places(page: Page) -> list[str]:
    """Where everything is that is touched."""
    # A button that is pressed down lies a pixel lower.
    until(page, "!document.querySelector('.button:active')")
    page.evaluate("document.fonts.ready.then(() => true)")
    found: list[str] = page.evaluate(PLACES)
    assert len(found) >= MOST_OF_THEM
    return found


def told_wrong(page: Page, faults: int, heading: str) -> None:
    """So many faults are told together at Save, in sight, and as many at their fields."""
    summary = page.locator("#at-save #error-summary")
    expect(summary).to_be_in_viewport(ratio=1)
    expect(summary.get_by_role("heading")).to_contain_text(heading)
    expect(summary.locator("li")).to_have_count(faults)
    expect(page.locator(".log .field-error[id]:visible")).to_have_count(faults)


def say_wrong(page: Page, faults: int) -> None:
    """Make so many mistakes: no holes; slips that are no number; no word of what became of the part."""
    if faults > 1:
        page.locator("#cutting_slips").fill("many")
    if faults > 2:
        page.locator("label.tile:has(input[value=broken])").tap()
        page.locator("label[for=hole_not_known]").tap()


HEADINGS = {
    "en": ["Not saved yet: 1 thing to correct", *(f"Not saved yet: {n} things to correct" for n in (2, 3))],
    "es": [
        "Todavía sin guardar: 1 cosa por corregir",
        *(f"Todavía sin guardar: {n} cosas por corregir" for n in (2, 3)),
    ],
}


@pytest.mark.parametrize("has_script", [True, False], ids=["script", "plain form"])
@pytest.mark.parametrize("language", [*SAVE_IN])
@pytest.mark.parametrize("size", TABLETS)
def test_a_refused_save_moves_nothing(
    open_tablet: OpenTablet, size: tuple[int, int], language: str, has_script: bool
) -> None:
    """One, two and three faults, told at their fields and at Save."""
    tablet = open_tablet(*size, java_script_enabled=has_script)
    page = tablet.page
    settle_in(page, language)
    for faults in (1, 2, 3):
        page.goto(STATION)
        say_wrong(page, faults)
        before = places(page)
        page.get_by_role("button", name=SAVE_IN[language]).tap()
        told_wrong(page, faults, HEADINGS[language][faults - 1])
        assert before == places(page)
    assert all("400" in trouble for trouble in tablet.troubles)
    tablet.troubles.clear()


@pytest.mark.parametrize("size", TABLETS)
def test_the_news_of_a_saved_batch_moves_nothing(open_tablet: OpenTablet, size: tuple[int, int]) -> None:
    """Saved with its way to undo, then undone: both above Save."""
    page = open_tablet(*size).page
    settle(page)
    finger = Finger(page)
    before = places(page)
    finger.touch(page.locator("[data-fill]"))
    finger.save()
    expect(page.locator(".told").get_by_role("button", name="Undo")).to_be_in_viewport(ratio=1)
    assert before == places(page)
    finger.button("Undo")
    expect(page.get_by_text("Undone: 48 holes")).to_be_in_viewport(ratio=1)
    assert before == places(page)


@pytest.mark.parametrize("size", TABLETS)
def test_rising_slips_with_news_beside_them_move_nothing(open_tablet: OpenTablet, size: tuple[int, int]) -> None:
    """The warning stands with the tap, the news at Save."""
    page = open_tablet(*size).page
    settle(page)
    finger = Finger(page)
    for _ in range(3):
        page.locator("#holes").fill("12")
        page.locator("#cutting_slips").fill("6")
        finger.save()
        expect(page.locator(".told")).to_contain_text("Saved: 12 holes")
    expect(page.locator(".slips-rise")).to_be_visible()
    with_news = places(page)
    page.goto(STATION)
    expect(page.locator(".told")).to_have_count(0)
    expect(page.locator(".slips-rise")).to_be_visible()
    assert places(page) == with_news


@pytest.mark.parametrize("size", TABLETS)
def test_a_lost_network_moves_nothing(open_tablet: OpenTablet, size: tuple[int, int]) -> None:
    """That the server is away, that a batch waits, that an entry was refused: told at Save and in the header."""
    tablet = open_tablet(*size)
    page = tablet.page
    settle(page)
    keeps(page)
    before = places(page)
    cut(page)
    nudge(page)
    expect(page.locator(".told")).to_contain_text("The server does not answer")
    assert before == places(page)
    log(Finger(page), "7")
    expect(page.locator("[data-kept-status]")).to_contain_text("on this tablet")
    assert before == places(page)
    restore(page)
    tablet.troubles.clear()


@pytest.mark.parametrize("size", TABLETS)
def test_a_photograph_moves_nothing(open_tablet: OpenTablet, size: tuple[int, int], tmp_path: Path) -> None:
    """Its picture and its words lie where nothing is touched."""
    page = open_tablet(*size).page
    settle(page)
    page.locator("label.tile:has(input[value=broken])").tap()
    path = tmp_path / "tap.jpg"
    picture(800, 600).save(path, "JPEG")
    before = places(page)
    for number in (1, 2):
        page.get_by_label("Photograph of the broken tap").set_input_files(path)
        expect(page.locator("[data-photographs-list] canvas")).to_have_count(number)
        assert before == places(page)


def test_on_a_phone_what_is_under_the_finger_stays(open_tablet: OpenTablet) -> None:
    """A refused save leaves Save where it was touched, with what is wrong right above it."""
    page = open_tablet(*PHONE).page
    settle(page)
    save = page.get_by_role("button", name=SAVE)
    save.scroll_into_view_if_needed()
    before = save.bounding_box()
    save.tap()
    told_wrong(page, 1, HEADINGS["en"][0])
    assert before == save.bounding_box()


def test_on_a_phone_the_header_is_there_before_it_speaks(open_tablet: OpenTablet) -> None:
    """Where entries are is told once the tablet knows; its place is kept until then."""
    page = open_tablet(*PHONE, java_script_enabled=False).page
    settle(page)
    height = "document.querySelector('.top').getBoundingClientRect().height"
    before = page.evaluate(height)
    with_script = open_tablet(*PHONE).page
    settle(with_script)
    expect(with_script.locator("[data-kept-status]")).to_be_visible()
    assert before == with_script.evaluate(height)


def is_calm(page: Page) -> None:
    """Nothing is wrong; there was nothing new to save."""
    expect(page.locator(".calm")).to_have_text("Saved just now; nothing new to save.")
    expect(page.locator("#error-summary")).to_have_count(0)
    assert not re.match("Error", page.title())


def test_a_late_second_touch_on_save_is_no_fault(page: Page) -> None:
    """The form is empty again already: nothing is missing, and the way to undo stays."""
    settle(page)
    finger = Finger(page)
    finger.touch(page.locator("[data-fill]"))
    finger.save()
    before = places(page)
    finger.button(SAVE)
    is_calm(page)
    assert before == places(page)
    expect(page.locator(".told").get_by_role("button", name="Undo")).to_be_visible()
    finger.button("5")
    expect(page.locator(".calm")).to_have_count(0)
    page.goto(f"{STATION}entries")
    assert 1 == page.get_by_role("button", name="Undo").count()


def test_a_late_second_touch_without_network_is_no_fault(page: Page, troubles: list[str]) -> None:
    """The batch is on the tablet, once."""
    settle(page)
    keeps(page)
    cut(page)
    log(Finger(page), "7")
    page.get_by_role("button", name=SAVE).tap()
    is_calm(page)
    expect(page.locator("[data-kept-status]")).to_contain_text("1 on this tablet")
    restore(page)
    troubles.clear()


def test_save_without_holes_is_a_fault_where_nothing_was_saved(page: Page) -> None:
    """Whoever forgets the holes is told so."""
    settle(page)
    page.get_by_role("button", name=SAVE).tap()
    told_wrong(page, 1, HEADINGS["en"][0])


def test_what_was_put_right_is_told_no_longer(page: Page) -> None:
    """The words at the field go with the next save, and the field is not called wrong any more."""
    settle(page)
    page.get_by_role("button", name=SAVE).tap()
    holes: Any = page.get_by_label("Holes", exact=True)
    expect(holes).to_have_attribute("aria-invalid", "true")
    expect(holes).to_have_attribute("aria-describedby", re.compile("holes-error"))
    expect(page.locator("#holes-error")).to_contain_text("It is missing; give a whole number")
    page.locator("#cutting_slips").fill("many")
    page.locator("[data-fill]").tap()
    lifted(page)
    page.get_by_role("button", name=SAVE).tap()
    expect(page.locator("#holes-error")).to_have_count(0)
    expect(page.locator("#error-summary li")).to_have_count(1)
    expect(holes).not_to_have_attribute("aria-invalid", "true")
