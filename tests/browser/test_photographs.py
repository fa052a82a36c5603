"""Photographs of a broken tap from the tablet's camera to the quality lead's page, with and without network."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from shopfloor.services.quality.images import LARGEST_BYTES, LONGEST_SIDE_PX
from tests.browser.conftest import Tablet
from tests.browser.network import STATUS, cut, go, keeps, lose_answers, nudge, quiet, restore
from tests.browser.reading import faults, is_wider_than_the_screen, small_targets, until
from tests.browser.record import asked, stored
from tests.browser.station_page import FLOOR_PX, STATION, Finger, settle, small
from tests.pictures import TURNED_RIGHT, noise, picture

ADDRESS = "**/photographs/**"
PREVIEW = "[data-photographs-list] canvas"
LOOK_AND_SEE = """dispatchEvent(new Event("online")),
  document.querySelector("[data-kept-status]").textContent === "All saved" """
"""Has the page look at the server; whether all is there by now."""
NO_ROOM = """() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (value, ...rest) {
    if (value instanceof ArrayBuffer) throw new DOMException("full", "QuotaExceededError");
    return put.call(this, value, ...rest);
  };
}"""


@pytest.fixture(scope="session")
def from_camera(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve million pixels of which no encoder makes little, held upright, with the place where it was taken."""
    path = tmp_path_factory.mktemp("camera") / "tap.jpg"
    exif = Image.Exif()
    exif[0x0112] = TURNED_RIGHT
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 8.0, 14.0)})
    drawn = noise(4000, 3000)
    drawn.paste(picture(1000, 750), (0, 0))
    drawn.save(path, "JPEG", quality=90, exif=exif)
    assert path.stat().st_size > 4_000_000
    return path


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that keeps its pages, lists and risks."""
    settle(page)
    keeps(page)
    return Finger(page)


def tell_break(finger: Finger, photograph: Path, holes: str = "9") -> None:
    """A batch whose tap broke, told to the last field, with a photograph in sight; not saved yet."""
    for key in holes:
        finger.button(key)
    finger.tile("Broken")
    finger.button("1")
    finger.tile("Part good")
    take(finger.page, photograph)
    expect(finger.page.locator(PREVIEW)).to_be_visible()


def take(page: Page, photograph: Path) -> None:
    """What the camera hands over."""
    page.get_by_label("Photograph of the broken tap").set_input_files(photograph)


def photographs(database: str) -> list[int]:
    """The bytes of each photograph on record."""
    return [row[0] for row in asked(database, "SELECT size FROM photograph")]


def close_question(page: Page) -> None:
    """Which tap comes next is not of interest here."""
    page.locator("[data-question-close]").tap()


def test_a_photograph_taken_without_network_is_stored_once(
    page: Page, finger: Finger, troubles: list[str], live_database: str, from_camera: Path
) -> None:
    """Kept with its entry over a reload, sent after it, shown on the page of the break: small, upright, nowhere."""
    cut(page)
    tell_break(finger, from_camera)
    assert [] == faults(page)
    finger.button("Save for Ada K.")
    close_question(page)
    page.reload()
    expect(page.locator(STATUS)).to_have_text("1 on this tablet, offline")
    page.locator(STATUS).tap()
    expect(page.locator("#tray .entry").first).to_contain_text("Photograph: On this tablet")
    assert [] == faults(page)
    page.locator("[data-tray-close]").tap()
    restore(page)
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    go(page, STATION)
    page.locator(STATUS).tap()
    expect(page.locator("#tray .entry").first).to_contain_text("Photograph: Saved")
    (size,) = photographs(live_database)
    assert 50_000 < size <= LARGEST_BYTES
    page.goto("/quality/incidents")
    page.get_by_role("link", name="1 photograph of tap").tap()
    shown = page.get_by_role("img", name="Photograph 1 of the broken tap")
    expect(shown).to_be_visible()
    until(page, "document.querySelector('.photographs img').naturalWidth > 0")
    wide, high = shown.evaluate("image => [image.naturalWidth, image.naturalHeight]")
    assert abs(wide / high - 3 / 4) < 0.01
    assert high <= LONGEST_SIDE_PX
    assert ([], False, []) == (faults(page), is_wider_than_the_screen(page), small_targets(page))
    quiet(page, troubles)


def test_a_photograph_that_fails_holds_up_nothing(
    page: Page, finger: Finger, troubles: list[str], live_database: str, from_camera: Path
) -> None:
    """Its answers are lost, the next batch is saved meanwhile; then it is there, once."""
    lost = lose_answers(page, ADDRESS, times=2)
    tell_break(finger, from_camera)
    finger.save()
    expect(page.locator(STATUS)).to_contain_text("1 photograph on this tablet")
    page.locator(".tile:visible").first.tap()
    expect(page.get_by_role("button", name="Save for Ada K.")).to_be_visible()
    for key in "12":
        finger.button(key)
    finger.save()
    assert 12 in stored(live_database)
    until(page, LOOK_AND_SEE)
    assert 201 == lost[0]
    assert 1 == len(photographs(live_database))
    quiet(page, troubles)


def test_a_refused_photograph_is_left_out(
    page: Page, finger: Finger, troubles: list[str], live_database: str, from_camera: Path
) -> None:
    """The break was taken out of the record meanwhile: the tray says so, and what can be done."""
    answer = {"error": "", "remedy": "", "problems": [{"field": "run", "what": "no tap broke in it", "remedy": "so"}]}
    page.route(ADDRESS, lambda route: route.fulfill(status=409, json=answer))
    tell_break(finger, from_camera)
    finger.save()
    expect(page.locator(STATUS)).to_have_text("1 needs attention")
    page.locator(STATUS).tap()
    entry = page.locator("#tray .entry").first
    expect(entry).to_contain_text("Photograph: Needs attention")
    expect(entry.locator(".field-error")).to_have_text("no tap broke in it; so")
    assert [] == faults(page)
    page.get_by_role("button", name="Leave it out").tap()
    expect(page.locator(STATUS)).to_have_text("All saved")
    expect(entry).to_contain_text("Photograph: Set aside")
    assert [] == photographs(live_database)
    quiet(page, troubles)


def test_a_tablet_without_room_keeps_what_happened(
    page: Page, finger: Finger, troubles: list[str], live_database: str, from_camera: Path
) -> None:
    """The batch is kept and saved; of the photograph the tray says what became of it."""
    page.evaluate(NO_ROOM)
    tell_break(finger, from_camera)
    finger.save()
    assert [1] == stored(live_database)
    expect(page.locator(STATUS)).to_have_text("1 needs attention")
    page.locator(STATUS).tap()
    expect(page.locator("#tray .entry").first).to_contain_text("this tablet has no room for it; leave it out")
    quiet(page, troubles)


def test_photographs_are_taken_and_removed(
    page: Page, finger: Finger, tmp_path: Path, live_database: str, shot: Callable[[str], Path]
) -> None:
    """Four at most, each in sight; one that is removed makes room; a batch whose tap is good takes none along."""
    path = tmp_path / "tap.png"
    picture(800, 600).save(path)
    tell_break(finger, path)
    shot("photograph")
    for number in (2, 3, 4):
        take(page, path)
        expect(page.locator(PREVIEW)).to_have_count(number)
    control = page.locator(".take-photograph")
    expect(control).to_be_hidden()
    assert [] == small(page, ".photographing button", FLOOR_PX)
    page.get_by_role("button", name="Remove photograph 4").tap()
    expect(control).to_be_visible()
    expect(page.get_by_text("3 photographs go with this batch.")).to_be_visible()
    finger.tile("Still good")
    finger.save()
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [] == photographs(live_database)


def test_what_is_no_picture_is_told_at_once(page: Page, finger: Finger, tmp_path: Path) -> None:
    """The incident stays as it is, and can be saved without."""
    path = tmp_path / "letter.jpg"
    path.write_text("Dear quality lead", encoding="utf-8")
    finger.tile("Broken")
    take(page, path)
    expect(page.locator("[data-photographs-fault]")).to_have_text(
        "This picture cannot be used here. Take it with the tablet's camera."
    )
    expect(page.locator(PREVIEW)).to_have_count(0)


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280), (390, 844)])
def test_the_story_with_its_photograph_can_be_used_by_all(
    open_tablet: Callable[..., Tablet], tmp_path: Path, size: tuple[int, int]
) -> None:
    """Large enough to touch, nothing to stumble over, no scrolling sideways."""
    path = tmp_path / "tap.png"
    picture(800, 600).save(path)
    page = open_tablet(*size).page
    settle(page)
    Finger(page).tile("Broken")
    take(page, path)
    expect(page.locator(PREVIEW)).to_be_visible()
    assert ([], [], False) == (
        faults(page),
        small(page, ".photographing button, .take-photograph", FLOOR_PX),
        is_wider_than_the_screen(page),
    )


def test_without_a_script_there_is_no_control(open_tablet: Callable[..., Tablet]) -> None:
    """What could not be scaled down is not offered."""
    page = open_tablet(java_script_enabled=False).page
    settle(page)
    page.locator("label.tile:visible").filter(has_text="Broken").first.tap()
    expect(page.get_by_label("What happened?")).to_be_visible()
    expect(page.locator(".take-photograph")).to_be_hidden()
