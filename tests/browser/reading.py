"""What a reader with other eyes or hands than ours would stumble over."""

from __future__ import annotations

import re
import time

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Error, Page

from shopfloor.web.assets.bundles import STATIC
from tests.browser.patience import PATIENCE_S

SIZES = [(1280, 800), (800, 1280), (390, 844)]
SMALLEST_TARGET_PX = 48
BOUNCE_MS = int(
    re.findall(r"BOUNCE_MS = (\d+);", (STATIC / "js/behaviours/debounce.js").read_text(encoding="utf-8"))[0]
)
LATER = "ms => { const now = performance.now.bind(performance); performance.now = () => now() + ms; }"
RENEWED = "Execution context was destroyed"
RULES = {rule: {"enabled": True} for rule in ("color-contrast-enhanced", "target-size", "label-content-name-mismatch")}
TARGETS = "main a, main button, main input:not([type=hidden]), main select, main textarea, main summary"
TOO_SMALL = """([targets, least]) => [...document.querySelectorAll(targets)].filter(element => {
  const { height } = (element.closest("label, .link-tile") ?? element).getBoundingClientRect();
  return height > 0 && height < least - 0.5 && !element.closest("p, .help li, .help dd");
}).map(element => element.outerHTML)"""
SHINING = """[...document.querySelectorAll("html, body, body *")].filter(element => {
  const [red, green, blue, opacity = 1] = getComputedStyle(element).backgroundColor.match(/[\\d.]+/g).map(Number);
  const { width, height } = element.getBoundingClientRect();
  return opacity > 0.5 && red + green + blue > 384 && width * height > 2000 && !element.matches(".label");
}).map(element => element.outerHTML.slice(0, 120))"""
"""Light areas, larger than a bar or a mark; labels are paper."""


def until(page: Page, condition: str) -> None:
    """Wait until a condition in JavaScript holds.

    The browser's own way of waiting looks at the condition by itself again and again, which our policy on scripts
    forbids it. A page that renews itself meanwhile is looked at anew.
    """
    patience = time.monotonic() + PATIENCE_S
    while not _holds(page, condition):
        assert time.monotonic() < patience, f"never came true: {condition}"
        page.wait_for_timeout(50)


def lifted(page: Page) -> None:
    """Keep the finger off the screen as long as a second touch would be taken for a bounce.

    Nobody waits: the page's clock is put forward. So it must be seen before that the first touch has done its work. A
    page that comes meanwhile knows of no touch before.
    """
    try:
        page.evaluate(LATER, BOUNCE_MS + 50)
    except Error as error:
        if RENEWED not in error.message:
            raise


def _holds(page: Page, condition: str) -> bool:
    try:
        return bool(page.evaluate(condition))
    except Error as error:
        if RENEWED not in error.message:
            raise
        return False


def faults(page: Page) -> list[str]:
    """Every rule of WCAG 2.2 AA that axe can check, contrast of 7:1, sizes of targets, names that say what is seen."""
    # What is right is counted, not listed: on a long page that takes half of the time.
    found = Axe().run(page, options={"rules": RULES, "resultTypes": ["violations"]}).response["violations"]
    return [f"{rule['id']}: {[node['html'][:120] for node in rule['nodes'][:3]]}" for rule in found]


def small_targets(page: Page) -> list[str]:
    """What is too small for a finger in a glove; a link within a sentence is as high as its line."""
    found: list[str] = page.evaluate(TOO_SMALL, [TARGETS, SMALLEST_TARGET_PX])
    return found


def is_wider_than_the_screen(page: Page) -> bool:
    """Whether one would have to scroll sideways."""
    return bool(page.evaluate("document.documentElement.scrollWidth > innerWidth"))


def is_dark(page: Page) -> bool:
    """Whether the ground of the page is nearer to black than to white."""
    told: str = page.evaluate("getComputedStyle(document.body).backgroundColor")
    return sum(map(int, re.findall(r"\d+", told)[:3])) < 3 * 128


def shining(page: Page) -> list[str]:
    """What would dazzle in a dark shop."""
    found: list[str] = page.evaluate(SHINING)
    return found


TABLETS = [(1280, 800), (1180, 820), (800, 1280)]
