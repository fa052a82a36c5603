"""Which Chromium the browser tests use; `python -m tests.browser.chromium` prints it, or fails when there is none."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

VARIABLE = "SHOPFLOOR_TEST_BROWSER"
SHELL = "chromium-headless-shell"
"""Debian's Chromium without the parts that draw windows: a page takes it about half of the processor's time."""

NAMES = (SHELL, "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Google/Chrome/Application/chrome.exe",
)
SERVER_NAME = "shop.test"
"""A name that is not this machine's own, as a tablet uses: no secure context without https."""

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP {SERVER_NAME} 127.0.0.1",
)
"""A browser that works as root, in a container, and calls nobody."""


def find() -> str | None:
    """Path of the first Chromium that is there, one without windows if possible."""
    if named := os.environ.get(VARIABLE):
        return named
    return next((path for path in candidates() if works(path)), None)


def candidates() -> Iterator[str]:
    """Where a Chromium may be, the system's own first."""
    yield from filter(None, map(shutil.which, NAMES))
    yield from PLACES
    yield playwrights_own()


def playwrights_own() -> str:
    """Where Playwright keeps the Chromium that it fetched, whether it did or not."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        return playwright.chromium.executable_path


def works(path: str) -> bool:
    """Whether there is a browser: some systems have a script in its place that only says how to get one."""
    if os.name == "nt":
        return Path(path).exists()
    try:
        return subprocess.run([path, "--version"], capture_output=True, timeout=60, check=False).returncode == 0
    except (OSError, subprocess.TimeoutExpired):
        return False


if __name__ == "__main__":
    found = find()
    sys.stdout.write(f"{found}\n" if found else "")
    sys.exit(0 if found else 1)
