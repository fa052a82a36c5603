"""Pages whose chart is drawn by a script."""

from __future__ import annotations

from playwright.sync_api import Page

LIFE = "/quality/life?tap_type=M6+spiral+flute+Delta"


def open_chart(page: Page, address: str) -> None:
    """Open a page and wait until its chart is drawn."""
    page.goto(address)
    page.locator("[data-drawn] .main-svg").first.wait_for()
