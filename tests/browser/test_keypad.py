"""Every path of the station page by touch alone, with and without network: what was touched is what is stored."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.network import STATUS, cut, keeps, quiet, restore
from tests.browser.reading import lifted
from tests.browser.record import asked
from tests.browser.scanner import scan, spare
from tests.browser.station_page import ENDS, SAVE, Finger, counted, settle

GOOD, BROKEN = "still good", "broken"
OFFERED = 48
"""Holes that the page offers for the job of these tests."""

PATHS: dict[str, tuple[str, list[tuple[Any, ...]]]] = {
    "the offered number": ("offered, Save", [(1, 1, OFFERED, 0, GOOD, None)]),
    "another number": ("105, Save", [(1, 1, 105, 0, GOOD, None)]),
    "a key too many": ("19, Delete the last digit, 8, Save", [(1, 1, 18, 0, GOOD, None)]),
    "one batch after another": ("11, Save, 12, Save", [(1, 1, 11, 0, GOOD, None), (2, 1, 12, 0, GOOD, None)]),
    "slips by plus and minus": (
        "20, One cutting slip more, One cutting slip more, One cutting slip less, Save",
        [(1, 1, 20, 1, GOOD, None)],
    ),
    "slips by the keypad, then a batch": (
        "20, slips, 3, Save, 7, Save",
        [(1, 1, 20, 3, GOOD, None), (2, 1, 7, 0, GOOD, None)],
    ),
    "a speed by the keypad": ("conditions, speed, 190, conditions, 12, Save", [(1, 1, 12, 0, GOOD, None)]),
    "broken, the rest with a tap of the list": (
        "offered, Broken, 27, Part scrapped, Chips packed, Save, from the list, Save",
        [(1, 1, 27, 0, BROKEN, 27), (1, 2, 21, 0, GOOD, None)],
    ),
    "broken, the rest typed anew, then a batch": (
        "offered, Broken, 27, Part good, Save, from the box, 18, Save, 21, Save",
        [(1, 1, 27, 0, BROKEN, 27), (1, 2, 18, 0, GOOD, None), (2, 2, 21, 0, GOOD, None)],
    ),
    "broken twice": (
        "offered, Broken, 9, Part good, Save, from the box, Broken, 5, Part reworked, Save, from the box, Save",
        [(1, 1, 9, 0, BROKEN, 9), (1, 2, 5, 0, BROKEN, 5), (1, 3, 34, 0, GOOD, None)],
    ),
    "worn within the rest of a batch": (
        "offered, Broken, 9, Part good, Save, from the box, 5, Worn, Save, from the box, Save",
        [(1, 1, 9, 0, BROKEN, 9), (1, 2, 5, 0, "worn", None), (1, 3, 34, 0, GOOD, None)],
    ),
    "broken, nobody knows where": (
        "offered, Broken, 5, Not known, Part good, Save, from the list, 18, Save",
        [(1, 1, OFFERED, 0, BROKEN, None), (1, 2, 18, 0, GOOD, None)],
    ),
    "broken before the holes are told": (
        "Broken, 9, where it broke, 4, Part good, Save, from the list, Save",
        [(1, 1, 4, 0, BROKEN, 4), (1, 2, 5, 0, GOOD, None)],
    ),
    "taken for broken": ("20, Broken, 7, Still good, 33, Save", [(1, 1, 33, 0, GOOD, None)]),
    "counted live": ("count hhshh, Save, 9, Save", [(1, 1, 4, 1, GOOD, None), (2, 1, 9, 0, GOOD, None)]),
    "counted to the break": (
        "count hhb, Part good, Save, from the list, 18, Save",
        [(1, 1, 3, 0, BROKEN, 3), (1, 2, 18, 0, GOOD, None)],
    ),
    "another tap before the batch": ("change tap, from the list, 14, Save", [(1, 1, 14, 0, GOOD, None)]),
    **{
        f"{end} within the batch": (
            f"30, {end}, Save, from the list, Save",
            [(1, 1, 30, 0, word, None), (1, 2, OFFERED - 30, 0, GOOD, None)],
        )
        for end, word in ENDS.items()
    },
}
"""By name: what is touched, and the runs of it: batch and tap by turn, holes, slips, end, hole of the break."""

STORED = """SELECT batch_id, tap_id, holes, cutting_slips, tap_end, broke_at_hole FROM run
  WHERE rowid > :last ORDER BY ended_at, position"""


class Walk(Finger):
    """A finger that follows a path."""

    def __init__(self, page: Page, *, is_online: bool) -> None:
        super().__init__(page)
        self.is_online = is_online
        window = page.get_by_role("dialog")
        tiles = {"list": page.locator("button[name=tap]"), "box": page.locator("button[name=tap_type]")}
        if not is_online:
            listed = window.locator(".tile").filter(has_text=re.compile("at this station|in the crib"))
            tiles = {"list": listed, "box": window.locator(".tile").filter(has_text="gets a code")}
        self.actions: dict[str, Callable[[], None]] = {
            "offered": lambda: self.touch(page.locator("[data-fill]")),
            "slips": lambda: self.touch(page.locator("#cutting_slips")),
            "speed": lambda: self.touch(page.locator("#rpm")),
            "where it broke": lambda: self.touch(page.locator("#broke_at_hole")),
            "conditions": lambda: self.touch(page.locator(".conditions summary")),
            "change tap": lambda: self.touch(page.locator(".tap-head a")),
            "from the list": lambda: self.fit(tiles["list"].first),
            "from the box": lambda: self.fit(tiles["box"].first, is_new=True),
            "Save": self.save,
        }  # fmt: skip

    def follow(self, path: str) -> None:
        """Touch one thing after the other: digits are keys, the rest actions, counted holes, buttons or tiles."""
        for step in path.split(", "):
            if step in self.actions:
                self.actions[step]()
            elif step.startswith("count "):
                self.count(step.removeprefix("count "))
            elif step.isdecimal():
                for key in step:
                    self.button(key)
            elif self.page.get_by_role("button", name=step, exact=True).count():
                self.button(step)
            else:
                self.tile(step)

    def count(self, steps: str) -> None:
        """Count live."""
        self.button("Count live")
        for step in steps:
            counted(self.page, step)
        self.button("Done")

    def save(self) -> None:
        """Touch Save and wait until the batch is where it should be."""
        if self.is_online:
            return super().save()
        waiting = self.waiting()
        self.button(SAVE)
        expect(self.page.locator(STATUS)).to_have_text(f"{waiting + 1} on this tablet, offline")
        expect(self.page.get_by_label("Broke at which hole?")).to_be_hidden()
        lifted(self.page)

    def waiting(self) -> int:
        """Entries that wait on the tablet."""
        return int((re.findall(r"^\d+", self.page.locator(STATUS).inner_text()) or ["0"])[0])

    def fit(self, tile: Locator, *, is_new: bool = False) -> None:
        """Touch the tap that goes in, and wait until the page shows it."""
        tile.tap()
        if is_new and not self.is_online:
            expect(self.page.get_by_role("dialog").locator(".code-to-write")).to_be_visible()
            self.button("Close")
        expect(self.page.get_by_role("button", name=SAVE)).to_be_visible()
        expect(self.page.get_by_role("dialog")).to_have_count(0)


def by_turn(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """The runs with their batches and taps numbered by turn."""
    batches, taps = (list(dict.fromkeys(row[place] for row in rows)) for place in (0, 1))
    return [(batches.index(row[0]) + 1, taps.index(row[1]) + 1, *row[2:]) for row in rows]


@pytest.mark.parametrize(("path", "is_online"), [*product(PATHS, (True, False))])
def test_what_is_touched_is_what_is_stored(
    page: Page, troubles: list[str], live_database: str, path: str, is_online: bool
) -> None:
    """No keyboard, no other way than the page's own keys and tiles."""
    touched, expected = PATHS[path]
    settle(page)
    if not is_online:
        keeps(page)
        cut(page)
    Walk(page, is_online=is_online).follow(touched)
    if not is_online:
        restore(page)
        expect(page.locator(STATUS)).to_have_text("All saved")
    assert expected == by_turn(asked(live_database, STORED))
    quiet(page, troubles)


def test_keys_beside_the_tablet_type_where_its_keypad_does(page: Page, troubles: list[str]) -> None:
    """With nothing in focus, or a button; not into the digits of a scan, nor where a text is being written."""
    settle(page)
    keeps(page)
    holes = page.get_by_label("Holes", exact=True)
    page.keyboard.type("48")
    page.keyboard.press("Backspace")
    expect(holes).to_have_value("4")
    finger = Finger(page)
    finger.tile("Broken")
    page.keyboard.type("3")
    expect(page.get_by_label("Broke at which hole?")).to_have_value("3")
    page.get_by_label("What happened?").focus()
    page.keyboard.type("at 7")
    expect(page.get_by_label("Broke at which hole?")).to_have_value("3")
    finger.tile("Still good")
    finger.button("Clear")
    label = spare(page)
    scan(page, label)
    expect(page.locator(".tap-code")).to_have_text(label.code)
    expect(holes).to_have_value("")
    quiet(page, troubles)
