"""A number that is hardly meant is asked back on the tablet, with network and without, and one touch confirms it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.network import (
    SHEET,
    STATUS,
    break_elsewhere,
    cut,
    keeps,
    log,
    nudge,
    other_tap,
    quiet,
    restore,
)
from tests.browser.reading import faults, lifted
from tests.browser.record import asked, stored
from tests.browser.station_page import FLOOR_PX, SAVE, STATION, Finger, settle
from tests.numbers_doubted import DOUBTED

TWENTY_MM_PX = 118
QUESTION = "#asked-back"
DOUBTS = """async ([address, asked]) => {
  const { doubtsOf } = await import(address);
  const run = { rpm: "400", tap_end: "still good" };
  const told = ({ mark, question, answer }) => [mark, question, answer];
  return asked.map(([typed, usual]) => doubtsOf({ ...run, ...typed }, usual).map(told));
}"""


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that keeps its pages, lists and risks."""
    settle(page)
    keeps(page)
    return Finger(page)


def box(element: Locator) -> dict[str, float]:
    """Where it stands."""
    found = element.bounding_box()
    assert found is not None
    return {name: round(found[name]) for name in ("x", "y", "width", "height")}


def type_holes(finger: Finger, holes: str) -> None:
    """By the keypad of the page."""
    for key in holes:
        finger.button(key)


def confirmed(database: str) -> list[tuple[Any, ...]]:
    """Holes of the runs of this test, and what was confirmed of them."""
    return asked(database, "SELECT holes, confirmed FROM run WHERE rowid > :last ORDER BY ended_at, position")


def test_the_tablet_doubts_what_the_server_doubts(page: Page) -> None:
    """The same numbers, in the same words."""
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/batch_rules.js", page.evaluate(SHEET))
    told = page.evaluate(DOUBTS, [address, [[typed, usual] for typed, usual, _ in DOUBTED]])
    for (typed, _, expected), found in zip(DOUBTED, told, strict=True):
        assert [list(one) for one in expected] == found, typed


def test_one_touch_confirms_and_nothing_moves(
    page: Page, finger: Finger, troubles: list[str], live_database: str, shot: Callable[[str], Path]
) -> None:
    """Save stays where it was, and what confirms lies beside it, 20 mm high."""
    save, holes = page.get_by_role("button", name=SAVE), page.locator("#holes")
    before = [box(save), box(holes)]
    type_holes(finger, "1812")
    finger.button(SAVE)
    expect(page.locator(QUESTION)).to_contain_text("Holes: 1,812? Usual on this job:")
    assert before == [box(save), box(holes)]
    yes = page.get_by_role("button", name="Yes, 1,812 holes")
    assert box(yes)["height"] >= TWENTY_MM_PX
    assert box(yes)["y"] + box(yes)["height"] <= box(save)["y"]
    assert "1812" == holes.input_value()
    assert [] == stored(live_database)
    assert [] == faults(page)
    shot("asked-back")
    lifted(page)
    finger.button("Yes, 1,812 holes")
    expect(page.get_by_role("status").filter(has_text="Saved: 1,812 holes on")).to_be_visible()
    assert [(1812, "holes")] == confirmed(live_database)
    expect(page.locator("[data-fill]")).to_have_attribute("data-value", "48")
    assert [] == troubles


def test_what_was_confirmed_without_network_arrives_as_such(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """Asked by the figures that the page came with, kept, and sent."""
    cut(page)
    type_holes(finger, "1812")
    finger.button(SAVE)
    expect(page.locator(QUESTION)).to_be_visible()
    lifted(page)
    finger.button("Yes, 1,812 holes")
    expect(page.get_by_text("On this tablet: 1,812 holes on")).to_be_visible()
    expect(page.locator(QUESTION)).to_have_count(0)
    restore(page)
    expect(page.get_by_role("status").filter(has_text="Saved: 1,812 holes on")).to_be_visible()
    assert [(1812, "holes")] == confirmed(live_database)
    quiet(page, troubles)


def test_a_number_that_was_not_meant_is_typed_anew(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """The next digits replace it, and the question is gone."""
    type_holes(finger, "4848")
    finger.button(SAVE)
    finger.button("No, change it")
    expect(page.locator(QUESTION)).to_have_count(0)
    expect(page.locator(".field-doubt")).to_have_count(0)
    type_holes(finger, "48")
    lifted(page)
    finger.button(SAVE)
    expect(page.get_by_role("status").filter(has_text="Saved: 48 holes on")).to_be_visible()
    assert [(48, None)] == confirmed(live_database)


def test_return_in_a_field_confirms_nothing(page: Page, finger: Finger, live_database: str) -> None:
    """Only the touch on the question does."""
    type_holes(finger, "1812")
    finger.button(SAVE)
    expect(page.locator(QUESTION)).to_be_visible()
    lifted(page)
    page.locator("#rpm").evaluate("(field) => field.form.requestSubmit()")
    page.locator("#holes").press("Enter")
    expect(page.locator(QUESTION)).to_be_visible()
    assert [] == stored(live_database)


def test_a_job_chosen_without_network_is_held_to_its_own_figures(
    page: Page, finger: Finger, troubles: list[str]
) -> None:
    """Not to those of the job that the page was drawn for."""
    cut(page)
    page.locator("#which").tap()
    page.locator("#question .tile").filter(has_not_text="J-1002").first.tap()
    expect(page.locator("#which")).not_to_contain_text("J-1002")
    kept = page.evaluate(
        """() => new Promise((resolve) => {
          const opening = indexedDB.open("shopfloor-tablet");
          opening.onsuccess = () => {
            const asked = opening.result.transaction("facts").objectStore("facts").get("lists arm-1");
            asked.onsuccess = () => resolve(asked.result);
          };
        })"""
    )
    job = page.locator('[name="job"]').input_value()
    lists = kept.get("value", kept)
    usual = next(one["usual"] for one in lists["jobs"] if one["code"] == job)
    assert usual == page.evaluate("() => JSON.parse(document.querySelector('form.log').dataset.usual)")
    quiet(page, troubles)


def test_an_entry_that_is_put_right_in_the_tray_is_asked_back_too(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """Nobody types 1100 for 11 there either; what is confirmed goes with it."""
    tap = page.locator(".tap-code").inner_text()
    cut(page)
    log(finger, "11")
    break_elsewhere(page, tap)
    restore(page)
    expect(page.locator(STATUS)).to_have_text("1 needs attention")
    page.locator(STATUS).tap()
    tray = page.locator("#tray")
    tray.get_by_role("button", name="Correct").tap()
    tray.get_by_label("Tap", exact=True).fill(other_tap(live_database, tap))
    tray.get_by_label("Holes", exact=True).fill("1100")
    tray.get_by_role("button", name="Send it under a new id").tap()
    expect(tray.locator(QUESTION)).to_contain_text("Holes: 1,100? Usual on this job:")
    assert [] == faults(page)
    tray.get_by_role("button", name="Yes, 1,100 holes").tap()
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert (1100, "holes") in confirmed(live_database)
    quiet(page, troubles)


def test_the_mark_of_a_set_up_is_not_told_of_another_job(page: Page, finger: Finger, troubles: list[str]) -> None:
    """Drawn for J-1011 it is kept with the page; of a job chosen without network nothing is said until it is known.

    At once, not only at the next look at the server, of which there is none here.
    """
    page.add_init_script("window.setInterval = () => 0")
    page.goto(f"{STATION}job")
    page.locator(".tile:visible").filter(has_text="J-1011").first.tap()
    mark = page.locator(".set-up-mark")
    expect(mark).to_contain_text("Do not start like this")
    keeps(page)
    assert box(mark)["height"] >= FLOOR_PX
    cut(page)
    nudge(page)
    expect(page.get_by_text("The server does not answer.")).to_be_visible()
    expect(mark).to_be_visible()
    page.locator("#which").tap()
    page.locator("#question .tile").filter(has_text="J-1002").first.tap()
    expect(mark).to_be_hidden()
    expect(page.get_by_text("Set-up warnings will be shown when the server answers again.")).to_be_visible()
    quiet(page, troubles)


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)])
def test_without_a_script_the_question_stands_below_save(
    open_tablet: Callable[..., Any], size: tuple[int, int], live_database: str
) -> None:
    """The page that comes back keeps what was typed, and its one touch saves."""
    page = open_tablet(*size, java_script_enabled=False).page
    page.goto("/operator/")
    for name in ("Tapping arm 1", "Ada K.", "J-1002"):
        page.locator(".tile:visible").filter(has_text=name).first.tap()
        page.wait_for_load_state()
    page.locator("#holes").fill("1812")
    page.get_by_role("button", name=SAVE).tap()
    expect(page.locator(QUESTION)).to_contain_text("Holes: 1,812? Usual on this job:")
    assert "1812" == page.locator("#holes").input_value()
    page.get_by_role("button", name="Yes, 1,812 holes").tap()
    expect(page.get_by_role("status").filter(has_text="Saved: 1,812 holes on")).to_be_visible()
    assert page.url.split("?")[0].endswith(STATION)
    assert [(1812, "holes")] == confirmed(live_database)
