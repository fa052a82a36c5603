"""Labels scanned by a keyboard-wedge scanner, typed by hand or read by the camera, with and without network."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from shopfloor.core.input.labels import Label, Labelled
from tests.browser.network import STATUS, cut, keeps, quiet, restore
from tests.browser.reading import faults
from tests.browser.record import asked
from tests.browser.scanner import lists, scan, spare
from tests.browser.station_page import FLOOR_PX, STATION, Finger, settle, small

JOB = Label(Labelled.JOB, "J-1001")
DIALOG = "dialog[open]"

CAMERA = """text => {
  globalThis.BarcodeDetector = class {
    static async getSupportedFormats() { return ["qr_code"]; }
    async detect() { return [{ rawValue: text }]; }
  };
  navigator.mediaDevices.getUserMedia = async () => {
    const canvas = document.createElement("canvas");
    canvas.getContext("2d").fillRect(0, 0, 9, 9);
    return (globalThis.filmed = canvas.captureStream(9));
  };
}"""
"""A browser that reads codes, in front of a picture of our own."""

SEE_OFF = """addEventListener("pagehide", () => {
  localStorage.setItem("off", filmed.getTracks().every((track) => track.readyState === "ended"));
})"""
"""Keeps, for the next page, whether the camera was off."""


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that has its lists."""
    settle(page)
    keeps(page)
    return Finger(page)


def type_code(page: Page, text: str) -> None:
    """Open the window and type a code."""
    page.locator("[data-scan-open]").tap()
    page.get_by_label("Code under the square").fill(text)
    page.get_by_role("button", name="Use this one").tap()


@pytest.mark.parametrize("key_ms", [0, 150])
def test_a_scan_fits_the_tap_wherever_the_focus_is(page: Page, finger: Finger, key_ms: int) -> None:
    """By a quick scanner and by a slow one, with the cursor in the field for holes, which stays as it was."""
    label = spare(page)
    holes = page.get_by_label("Holes", exact=True)
    holes.focus()
    scan(page, label, key_ms)
    expect(page.locator(".tap-code")).to_have_text(label.code)
    expect(holes).to_have_value("")


def test_a_scan_chooses_the_job_and_opens_the_station(page: Page, finger: Finger) -> None:
    """With nothing in focus."""
    scan(page, JOB)
    expect(page.locator("#which small")).to_have_text("Job J-1001")
    scan(page, Label(Labelled.STATION, "arm-2"))
    page.wait_for_url("**/operator/arm-2/**")


@pytest.mark.parametrize("slip", ["wrong", "swapped"])
def test_a_slip_in_a_typed_code_is_told_and_put_right_by_one_touch(page: Page, finger: Finger, slip: str) -> None:
    """One wrong character, or two swapped: the text is named, the label that was meant is offered, nothing is done."""
    label = spare(page)
    text = label.scanned
    texts = {"wrong": f"{text[:3]}Q{text[4:]}", "swapped": f"{text[0]}{text[2]}{text[1]}{text[3:]}"}
    before = page.locator(".tap-code").inner_text()
    type_code(page, texts[slip])
    window = page.locator(DIALOG)
    expect(window).to_contain_text(f"'{texts[slip]}' was read, but its check digits do not match")
    assert ([], []) == (faults(page), small(page, f"{DIALOG} :is(button, input)", FLOOR_PX))
    expect(page.locator(".tap-code")).to_have_text(before)
    window.locator(".tile").filter(has_text=f"Tap {label.code}").tap()
    expect(page.locator(".tap-code")).to_have_text(label.code)


def test_a_sign_that_a_person_types_comes_back(page: Page, finger: Finger) -> None:
    """Whoever writes of dollars in a note gets the sign after a moment."""
    page.clock.install()
    page.goto(STATION)
    page.locator(".conditions summary").tap()
    note = page.get_by_label("Note", exact=True)
    note.focus()
    page.keyboard.type("cost $12")
    page.clock.fast_forward("05:00")
    expect(note).to_have_value("cost $12")


def test_a_half_typed_batch_is_not_lost_by_a_scan(page: Page, finger: Finger) -> None:
    """It asks first; closed, everything is as it was."""
    for key in "17":
        finger.button(key)
    scan(page, JOB)
    window = page.locator(DIALOG)
    expect(window).to_contain_text("The batch on this page is not saved yet")
    window.get_by_role("button", name="Close").tap()
    expect(page.get_by_label("Holes", exact=True)).to_have_value("17")
    scan(page, JOB)
    window.locator(".tile").filter(has_text="Go on with job J-1001").tap()
    expect(page.locator("#which small")).to_have_text("Job J-1001")


def test_without_network_the_lists_on_the_tablet_serve(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """A tap is fitted from them; one for another thread is not."""
    label = spare(page)
    known = lists(page)
    threads = {job["code"]: job["thread"] for job in known["jobs"]}
    foreign = next(tap["code"] for tap in known["taps"] if tap["thread"] != threads["J-1002"])
    cut(page)
    scan(page, Label(Labelled.TAP, foreign))
    expect(page.locator(DIALOG)).to_contain_text("does not cut this job's thread")
    scan(page, label)
    expect(page.locator(".tap-code")).to_have_text(label.code)
    expect(page.get_by_text(f"Tap {label.code} was scanned")).to_be_visible()
    for key in "11":
        finger.button(key)
    finger.button("Save for Ada K.")
    expect(page.get_by_text(f"On this tablet: 11 holes on {label.code}")).to_be_visible()
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    query = "SELECT COUNT(*) FROM run JOIN tap ON tap.id = run.tap_id WHERE tap.code = :tap AND run.holes = 11"
    assert [(1,)] == asked(live_database, query, tap=label.code)
    quiet(page, troubles)


def test_the_camera_reads_and_is_switched_off(open_tablet: Callable[..., Any]) -> None:
    """Where the browser can: one touch, the code is taken, the camera is off again."""
    page = open_tablet().page
    page.add_init_script(f"({CAMERA})('${JOB.scanned}')")
    settle(page)
    page.locator("[data-scan-open]").tap()
    page.evaluate(SEE_OFF)
    page.get_by_role("button", name="Read with the camera").tap()
    expect(page.locator("#which small")).to_have_text("Job J-1001")
    assert "true" == page.evaluate("localStorage.getItem('off')")


def test_without_a_reader_of_codes_it_is_said(page: Page, finger: Finger) -> None:
    """Nobody looks for a button that is not there."""
    page.locator("[data-scan-open]").tap()
    expect(page.locator(DIALOG)).to_contain_text("does not read codes with the camera")


def test_a_scan_on_the_start_page_opens_the_station(page: Page) -> None:
    """Before anybody has chosen anything."""
    page.goto("/operator/")
    scan(page, Label(Labelled.STATION, "arm-1"))
    page.wait_for_url(f"**{STATION}**")


def test_without_script_a_form_takes_the_code(open_tablet: Callable[..., Any]) -> None:
    """Scan is a page with a field."""
    page = open_tablet(java_script_enabled=False).page
    page.goto("/operator/")
    page.get_by_role("link", name="Scan or type a code").tap()
    page.get_by_label("Scan or type a code").fill(Label(Labelled.STATION, "arm-2").printed)
    page.get_by_role("button", name="Use this code").tap()
    page.wait_for_url("**/operator/arm-2/**")


@pytest.mark.parametrize("address", ["/crib/labels", "/setup/jobs/labels", "/operator/scan"])
def test_the_pages_can_be_read(page: Page, address: str) -> None:
    """By every rule of WCAG 2.2 AA, and with the square codes of the size that they say."""
    page.goto(address)
    assert [] == faults(page)


def test_labels_are_as_large_as_they_say(page: Page, shot: Callable[[str], Any]) -> None:
    """62 x 29 mm at 96 px to the inch."""
    page.goto("/crib/labels")
    box = page.locator(".label").first.bounding_box()
    assert box is not None
    assert (62, 29) == (round(box["width"] * 25.4 / 96), round(box["height"] * 25.4 / 96))
    shot("labels")
