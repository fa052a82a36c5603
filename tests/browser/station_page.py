"""The station page under a gloved finger."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import Tablet
from tests.browser.reading import lifted

STATION = "/operator/arm-1/"
FLOOR_PX = 76
LARGE_PX = 104
SAVE_IN = {"en": "Save for Ada K.", "es": "Guardar para Ada K."}
SAVE = SAVE_IN["en"]
ENDS = {"Worn": "worn", "Chipped": "chipped", "Changed in time": "retired early"}
TOUCHED = "a, button, summary, select, textarea, input:not([type=hidden])"
IN_THE_PAGE = "details:not(.top-look)"
"""What folds out within the page; a menu that lies over it covers what axe measures."""

HERE = "http://127.0.0.1/"
REMEMBERED = {"session", "language"}
"""Cookies that say who works where on what, and in which language."""
_SETTLED: dict[tuple[str, str], list[tuple[str, str]]] = {}
"""By job and first page, the cookies of the tablet that was touched."""

OpenTablet = Callable[..., Tablet]


class Finger:
    """Touches things and counts."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.touches = 0

    def touch(self, target: Locator) -> None:
        """One touch."""
        target.tap()
        self.touches += 1

    def button(self, name: str) -> None:
        """Touch the button of that name."""
        self.touch(self.page.get_by_role("button", name=name, exact=True))

    def tile(self, name: str) -> None:
        """Touch the tile that bears that word."""
        self.touch(self.page.locator("label.tile:visible").filter(has_text=re.compile(rf"^\s*{name}\s*$")).first)

    def save(self) -> None:
        """Touch Save and wait for what comes next."""
        before = self.page.url
        self.button(SAVE)
        self.page.wait_for_url(lambda url: url != before)


def settle(page: Page, job: str = "J-1002", at: str = "/operator/", language: str = "en") -> None:
    """Ada works at arm 1 on the job: what a tablet remembers once she has touched the three, so it opens there.

    The first tablet of a process is touched, the others are handed its cookies. Where the server does not know them
    (it signs with a key of its own), the tablet is touched as well.
    """
    if remembered := _SETTLED.get((job, at)):
        page.context.add_cookies([{"name": name, "value": value, "url": HERE} for name, value in remembered])
        page.goto(STATION)
    if not page.get_by_role("button", name=SAVE_IN[language]).count():
        settle_by_touch(page, job, at, language)
        cookies = [(cookie["name"], cookie["value"]) for cookie in page.context.cookies()]
        _SETTLED[job, at] = [(name, value) for name, value in cookies if name in REMEMBERED]


def settle_by_touch(page: Page, job: str = "J-1002", at: str = "/operator/", language: str = "en") -> None:
    """Ada works at arm 1 on the job: three touches that the tablet remembers."""
    page.goto(at)
    for name in ("Tapping arm 1", "Ada K.", job):
        page.locator(".tile:visible").filter(has_text=name).first.tap()
        page.wait_for_load_state()
    expect(page.get_by_role("button", name=SAVE_IN[language])).to_be_visible()


def small(page: Page, selector: str, floor: int) -> list[str]:
    """Visible things of that kind that are narrower or lower than the floor."""
    return page.evaluate(
        """([selector, floor]) => [...document.querySelectorAll(selector)]
          .filter((e) => e.checkVisibility() && !e.closest(".hidden-label") && !e.matches(".skip"))
          .map((e) => [e, (e.matches(".tile input") ? e.parentElement : e).getBoundingClientRect()])
          .filter(([e, box]) => box.width < floor - 0.5 || box.height < floor - 0.5)
          .map(([e, box]) => `${e.outerHTML.slice(0, 80)} ${box.width} x ${box.height}`)""",
        [selector, floor],
    )


def opened(page: Page, address: str, folded: str = "details") -> None:
    """The page with all that folds out, and the story of a broken tap where there is one."""
    page.goto(address)
    page.evaluate(f"document.querySelectorAll('{folded}').forEach((each) => (each.open = true))")
    broken = page.locator("input[value=broken]")
    if broken.count():
        broken.check(force=True)


def counted(page: Page, steps: str) -> None:
    """Touch hole (h), slip (s) and break (b) in this order, slower than a bounce."""
    for step in steps:
        says = page.locator("[data-count-says]")
        before = says.inner_text()
        page.locator(f"#counting [data-count={step}]").tap()
        expect(says).not_to_have_text(before)
        lifted(page)


def settle_in(page: Page, language: str) -> None:
    """Ada works at arm 1 on a job, in this language."""
    settle(page, at=f"/language/{language}?back=/operator/", language=language)
