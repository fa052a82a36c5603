"""What the station page says while entries wait on the tablet, and once they are stored: never an old figure."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from shopfloor.core.input.labels import Label, Labelled
from shopfloor.services.runs.batch_size import Why, offered_portion
from tests.browser.network import ADVICE_IS_KEPT, SHEET, STATUS, cut, keeps, log, nudge, quiet, restore
from tests.browser.reading import lifted, until
from tests.browser.record import asked
from tests.browser.scanner import scan
from tests.browser.station_page import ENDS, SAVE, Finger, settle
from tests.numbers_typed import LARGEST

LEFT_ON_JOB = """left => {
  const form = document.querySelector("form.log");
  form.dataset.soFar = JSON.stringify({ ...JSON.parse(form.dataset.soFar), left_on_job: left });
}"""
PORTIONS = """async ([address, asked, largest]) => {
  const { offeredPortion } = await import(address);
  const limits = { largest_batch: largest };
  return asked.map(([last_batch, left_on_job]) => offeredPortion({ last_batch, left_on_job }, limits));
}"""
HOLD_FACTS = """() => new Promise((held) => {
  const opening = indexedDB.open("shopfloor-tablet");
  opening.onsuccess = () => {
    const facts = opening.result.transaction("facts", "readwrite").objectStore("facts");
    const again = () => window.released || (facts.get("nothing").onsuccess = again);
    again();
    held();
  };
})"""
"""What the tablet knows of its server's advice cannot be read until `window.released`."""
AWAY = re.compile("server does not answer|when the server answers")


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that has just lost its network."""
    settle(page)
    keeps(page)
    cut(page)
    return Finger(page)


def back(page: Page) -> None:
    """The network is back, and what waited is stored."""
    restore(page)
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")


def end_tap(finger: Finger, end: str) -> str:
    """A batch of 11 holes at whose end the tap is at its own; the tap's code."""
    code = finger.page.locator(".tap-code").inner_text()
    for key in "11":
        finger.button(key)
    finger.tile(end)
    if end == "Broken":
        finger.button("7")
        finger.tile("Part good")
    finger.button(SAVE)
    expect(finger.page.get_by_role("dialog").get_by_role("heading", name="Which tap goes in?")).to_be_visible()
    lifted(finger.page)
    return code


def choose_tap(page: Page, group: str) -> str:
    """Take the first tap of the list that is told so; its code."""
    tile = page.get_by_role("dialog").locator(".tile").filter(has_text=group).first
    code = tile.locator("strong").inner_text()
    tile.tap()
    expect(page.locator(".tap-code")).to_have_text(code)
    return code


@pytest.mark.parametrize("end", ["Broken", *ENDS])
def test_a_tap_that_came_to_its_end_is_not_taken_again(
    page: Page, finger: Finger, troubles: list[str], end: str
) -> None:
    """It is not offered, a scan does not fit it, and nothing more is saved on it."""
    code = end_tap(finger, end)
    tiles = page.get_by_role("dialog").locator(".tile")
    expect(tiles.filter(has_text="in the crib").first).to_be_visible()
    expect(tiles.filter(has_text=re.compile(rf"^{code}\b"))).to_have_count(0)
    finger.button("Close")
    finger.button("Clear")
    finger.button("9")
    finger.button(SAVE)
    told = f"{code} ended in a batch on this tablet: {end.lower()}"
    expect(page.locator(".station")).to_contain_text(told)
    expect(page.locator(STATUS)).to_have_text("1 on this tablet, offline")
    page.locator(".tap-head a").tap()
    choose_tap(page, "in the crib")
    finger.button("Clear")
    scan(page, Label(Labelled.TAP, code))
    expect(page.get_by_role("dialog")).to_contain_text(told)
    quiet(page, troubles)


def test_a_tap_chosen_without_network_counts_its_holes(page: Page, finger: Finger, troubles: list[str]) -> None:
    """Beside its figure and in the list, over a reload, and a tap from the box as one of the list."""
    page.locator(".tap-head a").tap()
    code = choose_tap(page, "in the crib")
    log(finger, "11")
    log(finger, "12")
    expect(page.locator(".tap-holes")).to_contain_text("+ 23 on this tablet")
    page.reload()
    expect(page.locator(".tap-code")).to_have_text(code)
    expect(page.locator(".tap-holes")).to_contain_text("+ 23 on this tablet")
    page.locator(".tap-head a").tap()
    dialog = page.get_by_role("dialog")
    expect(dialog.locator(".tile").filter(has_text=code)).to_contain_text("+ 23 on this tablet, at this station")
    dialog.locator(".tile").filter(has_text="gets a code").first.tap()
    marked = dialog.locator(".code-to-write").inner_text()
    finger.button("Close")
    page.locator(".tap-head a").tap()
    expect(dialog.locator(".tile").filter(has_text=marked)).to_contain_text(
        "0 holes when last updated, at this station"
    )
    quiet(page, troubles)


def test_what_is_left_on_the_job_falls_with_what_waits(page: Page, finger: Finger, troubles: list[str]) -> None:
    """Each batch takes its holes off; one that is undone gives them back."""
    portion = page.locator(".portion")
    page.evaluate(LEFT_ON_JOB, 70)
    log(finger, "30")
    expect(portion).to_have_text("30as last time")
    log(finger, "30")
    expect(portion).to_have_text("10left on this job")
    expect(page.locator("[name=offered]")).to_have_value("10")
    finger.button("Undo")
    expect(portion).to_have_text("30as last time")
    quiet(page, troubles)


def test_the_number_offered_without_network_is_what_the_server_offers(
    page: Page, finger: Finger, troubles: list[str]
) -> None:
    """The rest of a batch until it is over, then the whole of it over both of its taps, as last time."""
    portion = page.locator(".portion")
    page.locator("[data-fill]").tap()
    finger.tile("Broken")
    for key in "27":
        finger.button(key)
    finger.tile("Part good")
    finger.button(SAVE)
    choose_tap(page, "in the crib")
    lifted(page)
    expect(portion).to_have_text("21left of batch")
    finger.touch(portion)
    finger.button(SAVE)
    expect(portion).to_have_text("48as last time")
    lifted(page)
    log(finger, "13")
    expect(portion).to_have_text("13as last time")
    back(page)
    expect(page.locator(".risk:visible .odds")).to_be_visible()
    expect(portion).to_have_text("13as last time")
    quiet(page, troubles)


def test_the_tablet_offers_numbers_by_the_servers_rule(page: Page) -> None:
    """For whatever is known of the last batch and of what is left."""
    numbers = [None, 0, 1, 12, 48, 720, LARGEST, LARGEST + 1]
    cases = [(last, left) for last in numbers[:1] + numbers[2:] for left in [*numbers, -5]]
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/batch_rules.js", page.evaluate(SHEET))
    told: list[Any] = page.evaluate(PORTIONS, [address, cases, LARGEST])
    for (last, left), found in zip(cases, told, strict=True):
        portion = offered_portion(last, left, LARGEST)
        expected = portion and {"holes": portion.holes, "isLeft": portion.why is Why.LEFT_ON_JOB}
        assert expected == found, (last, left)


def test_another_job_begins_another_batch(page: Page, finger: Finger, troubles: list[str], live_database: str) -> None:
    """What was left of the batch before is left there."""
    end_tap(finger, "Worn")
    choose_tap(page, "in the crib")
    expect(page.get_by_label("Holes", exact=True)).to_have_value("37")
    page.locator("#which").tap()
    thread = "M6 in"
    page.get_by_role("dialog").locator(".tile").filter(has_text=thread).filter(has_not_text="J-1002").first.tap()
    expect(page.locator(".portion")).to_be_hidden()
    expect(page.get_by_label("Holes", exact=True)).to_have_value("")
    log(finger, "9")
    back(page)
    assert [(2,)] == asked(live_database, "SELECT COUNT(DISTINCT batch_id) FROM run WHERE rowid > :last")
    quiet(page, troubles)


def test_a_half_filled_form_stays_while_the_page_is_renewed(page: Page, finger: Finger, troubles: list[str]) -> None:
    """Figures and words are the server's again, with the batch in them; what is typed and the page itself stay."""
    before = int(page.locator(".tap-holes strong").inner_text().replace(",", ""))
    log(finger, "11")
    expect(page.locator(".kept-risk")).to_have_count(1)
    finger.button("5")
    page.evaluate("window.isSamePage = true")
    back(page)
    expect(page.locator(".tap-holes")).to_contain_text(f"{before + 11:,} holes so far")
    expect(page.locator(".waiting-holes")).to_have_count(0)
    expect(page.locator(".kept-risk, .kept-bar")).to_have_count(0)
    expect(page.locator(".risk .odds")).to_be_visible()
    expect(page.locator(".portion")).to_have_text("11as last time")
    expect(page.locator(".station")).not_to_contain_text(AWAY)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("5")
    assert page.evaluate("window.isSamePage")
    finger.button("3")
    finger.save()
    expect(page.get_by_text("Saved: 53 holes on")).to_be_visible()
    quiet(page, troubles)


def test_with_a_tap_that_the_server_has_yet_to_hear_of_nothing_is_said_of_its_absence(
    page: Page, finger: Finger, troubles: list[str]
) -> None:
    """The form is half filled, so the choice is told later; the words that wait for the server go at once."""
    page.locator(".tap-head a").tap()
    code = choose_tap(page, "in the crib")
    expect(page.locator(".tap-words")).to_contain_text("Its risk will be shown when the server answers again.")
    finger.button("5")
    back(page)
    expect(page.locator(".station")).not_to_contain_text(AWAY)
    expect(page.locator(".tap-code")).to_have_text(code)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("5")
    finger.save()
    expect(page.get_by_text(f"Saved: 5 holes on {code}")).to_be_visible()
    quiet(page, troubles)


def test_advice_that_is_read_slowly_does_not_speak_of_a_server_that_is_back(
    page: Page, finger: Finger, troubles: list[str]
) -> None:
    """The tablet reads it while there is no network, and has read it when the server has answered."""
    page.locator(".tap-head a").tap()
    choose_tap(page, "in the crib")
    page.evaluate(HOLD_FACTS)
    finger.button("5")
    back(page)
    page.evaluate("window.released = true")
    until(page, ADVICE_IS_KEPT)
    expect(page.locator(".station")).not_to_contain_text(AWAY)
    quiet(page, troubles)


def test_the_page_is_renewed_before_anything_else_is_read(page: Page, finger: Finger, troubles: list[str]) -> None:
    """Lists and risks for the next time without network can wait, a page that speaks of the last one cannot."""
    log(finger, "11")
    page.reload()
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    read: list[str] = []
    page.on("request", lambda request: read.append(request.url))
    back(page)
    expect(page.locator(".told, .waiting-holes, .kept-risk")).to_have_count(0)
    expect(page.locator(".risk .odds")).to_be_visible()
    places = [place for place, address in enumerate(read) if re.search(r"/operator/arm-1/(\?|$)", address)]
    lists = [place for place, address in enumerate(read) if "/sync/lists/" in address]
    assert places
    assert all(places[0] < place for place in lists)
    quiet(page, troubles)
