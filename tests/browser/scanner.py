"""A keyboard-wedge scanner and the labels that it reads."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

from shopfloor.core.input.labels import Label, Labelled


def lists(page: Page) -> Any:
    """What the tablet keeps of the station."""
    return page.evaluate("async () => (await fetch('/sync/lists/arm-1')).json()")


def spare(page: Page) -> Label:
    """The label of a tap in the crib that fits the job."""
    known = lists(page)
    thread = next(job["thread"] for job in known["jobs"] if job["code"] == "J-1002")
    code = next(tap["code"] for tap in known["taps"] if tap["thread"] == thread and not tap["is_here"])
    return Label(Labelled.TAP, code)


def scan(page: Page, label: Label, key_ms: int = 0) -> None:
    """What a scanner does: the sign, the code and Enter, each key after so many milliseconds."""
    page.keyboard.type(f"${label.scanned}\n", delay=key_ms)
