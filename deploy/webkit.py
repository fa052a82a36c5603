"""Makes sure that a browser test finds a WebKit where Debian's packages are available; standard library only."""

from __future__ import annotations

from chromium import found, install_with_apt
from environment import Environment, say

LOOK = ["-m", "tests.browser.webkit"]
"""Prints the browser that the test will use; fails if there is none."""

PACKAGES = ("webkit2gtk-driver", "xvfb")


def ensure(environment: Environment) -> None:
    """Find a WebKit or install one; otherwise say what is missing and go on without."""
    if found(environment, LOOK) or (install_with_apt(*PACKAGES) and found(environment, LOOK)):
        return
    say(
        "No WebKit was found and none could be installed, so the test in it will be left out (on a build server with\n"
        f"Debian: fail). There, install {' and '.join(PACKAGES)}, and run this again."
    )
