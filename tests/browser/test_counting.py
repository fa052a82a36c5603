"""Holes counted live on the tablet: exact holes of slips and break, and nothing lost by a reload or another job."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Tablet
from tests.browser.reading import faults, lifted
from tests.browser.station_page import FLOOR_PX, LARGE_PX, STATION, Finger, counted, settle, small

AREA = ".count-hole"


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page."""
    settle(page)
    return Finger(page)


def change_job(page: Page, job: str) -> None:
    """Another job is called for."""
    page.goto(f"{STATION}job")
    page.locator(".tile").filter(has_text=job).first.tap()
    page.wait_for_url(f"**{STATION}")


def last_run(database: str) -> tuple[Any, ...]:
    """What the record holds of the newest run."""
    with closing(sqlite3.connect(database.removeprefix("sqlite:///"))) as connection:
        query = "SELECT holes, cutting_slips, slip_holes, tap_end, broke_at_hole FROM run ORDER BY recorded_at DESC"
        row: tuple[Any, ...] = connection.execute(query).fetchone()
        return row


def test_the_hole_of_each_slip_is_kept(
    page: Page, finger: Finger, live_database: str, shot: Callable[[str], Path]
) -> None:
    """Five holes, slips in the second and the fourth; one touch too many is taken back."""
    finger.button("Count live")
    counted(page, "hshhshhh")
    finger.button("Back one")
    expect(page.get_by_text("5 holes made; cutting slips in holes 2, 4.")).to_be_visible()
    shot("counting")
    finger.button("Done")
    finger.save()
    assert (5, 2, "2 4", "still good", None) == last_run(live_database)


def test_the_hole_of_the_break_is_exact(page: Page, finger: Finger, live_database: str) -> None:
    """Three holes, broken in the fourth: the incident is open, its hole filled in."""
    finger.button("Count live")
    counted(page, "hhhb")
    expect(page.get_by_text("Broken at hole 4")).to_be_visible()
    finger.button("Done")
    expect(page.get_by_label("Broke at which hole?")).to_have_value("4")
    finger.tile("Part scrapped")
    finger.save()
    assert (4, 0, None, "broken", 4) == last_run(live_database)


def test_a_count_survives_a_reload_and_a_call_to_another_job(page: Page, finger: Finger) -> None:
    """Each job at the station goes on where it was."""
    finger.button("Count live")
    counted(page, "hh")
    page.reload()
    expect(page.get_by_role("button", name="Go on counting (2)")).to_be_visible()
    change_job(page, "J-1003")
    finger.button("Count live")
    expect(page.get_by_text("Counts not finished here: J-1002 with")).to_be_visible()
    counted(page, "h")
    change_job(page, "J-1002")
    finger.button("Go on counting (2)")
    counted(page, "h")
    expect(page.get_by_text("3 holes made.")).to_be_visible()


def test_a_saved_count_is_over(page: Page, finger: Finger) -> None:
    """The next batch begins at hole 1."""
    finger.button("Count live")
    counted(page, "h")
    finger.button("Done")
    finger.save()
    expect(page.get_by_role("button", name="Count live")).to_be_visible()


def test_a_bounce_counts_once(page: Page, finger: Finger) -> None:
    """Two touches within a moment are one hole."""
    finger.button("Count live")
    page.locator(AREA).evaluate("area => (area.click(), area.click())")
    expect(page.get_by_text("1 hole made.")).to_be_visible()


def test_a_hole_that_slipped_is_finished_before_done(page: Page, finger: Finger) -> None:
    """Nobody would know what became of it."""
    finger.button("Count live")
    counted(page, "hs")
    expect(page.get_by_role("button", name="Done")).to_be_disabled()
    counted(page, "h")
    expect(page.get_by_role("button", name="Done")).to_be_enabled()


def test_figures_that_were_changed_afterwards_drop_the_holes_of_the_slips(
    page: Page, finger: Finger, live_database: str
) -> None:
    """Another number of slips, typed after counting, is believed; the holes of the old ones are not kept."""
    finger.button("Count live")
    counted(page, "hshh")
    finger.button("Done")
    finger.button("One cutting slip more")
    finger.button("Save for Ada K.")
    expect(page.get_by_role("button", name="Yes, 2 cutting slips")).to_be_visible()
    lifted(page)
    finger.button("Yes, 2 cutting slips")
    expect(page.get_by_role("status").filter(has_text="Saved: 3 holes on")).to_be_visible()
    assert (3, 2, None) == last_run(live_database)[:3]


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280), (390, 844)])
def test_counting_is_large_and_can_be_read(open_tablet: Callable[..., Tablet], size: tuple[int, int]) -> None:
    """One huge area; all else at least 20 mm or 76 px; nothing that axe finds; no sideways scrolling."""
    page = open_tablet(*size).page
    settle(page)
    Finger(page).button("Count live")
    counted(page, "hsh")
    expect(page.locator("#counting")).to_be_visible()
    assert [] == small(page, "#counting .count-ways button", LARGE_PX)
    assert [] == small(page, "#counting button", FLOOR_PX)
    assert 0.35 * size[0] * size[1] < page.evaluate(
        f"(({{ width, height }}) => width * height)(document.querySelector('{AREA}').getBoundingClientRect())"
    )
    assert [] == faults(page)
    assert size[0] >= page.evaluate("document.querySelector('#counting').scrollWidth")
