"""Makes sure that the browser tests find a Chromium; standard library only."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence

from environment import ROOT, Environment, say

LOOK = ["-m", "tests.browser.chromium"]
"""Prints the browser that the tests will use, and fails when there is none."""
SHELL = "chromium-headless-shell"
"""Debian's Chromium without windows, on which the browser tests take about half of the time. Other systems lack it."""
CHOSEN = "SHOPFLOOR_TEST_BROWSER"
"""Names the path of a browser in its place."""
FONT = "fonts-liberation"
UPDATE = ["apt-get", "update", "-qq"]
INSTALL = ["apt-get", "install", "-qq", "-y", "--no-install-recommends"]


def ensure(environment: Environment) -> None:
    """Find a browser or install one; otherwise say what is missing and go on without."""
    if shutil.which(SHELL) is None and CHOSEN not in os.environ:
        install_shell()
    if found(environment):
        return
    for install in (install_from_distribution, install_with_playwright):
        if install(environment) and found(environment):
            return
    say(
        "No Chromium was found and none could be installed, so the browser tests will be left out (on a build server:\n"
        "fail). Install Chromium or Chrome, or set SHOPFLOOR_TEST_BROWSER to the path of one, and run this again."
    )


def found(environment: Environment, command: Sequence[str] = LOOK) -> bool:
    """Whether the tests will find a browser; says which."""
    look = subprocess.run(
        [environment.python, *command], cwd=ROOT, capture_output=True, encoding="utf-8", errors="replace", check=False
    )
    if look.returncode == 0:
        say(f"Browser for the tests: {look.stdout.strip()}")
    return look.returncode == 0


def install_shell() -> bool:
    """Install the quickest browser where the distribution has it; where it has not, another one does."""
    if not has_apt():
        return False
    say("Looking for the quickest browser for the tests (apt-get, takes a minute or two where there is one)")
    return all(map(done, (UPDATE, [*INSTALL, SHELL, FONT])))


def install_from_distribution(_: Environment) -> bool:
    """Install the distribution's own Chromium and a font for it."""
    return install_with_apt("chromium", FONT)


def install_with_apt(*packages: str) -> bool:
    """Install packages on Debian and its kin, as root."""
    if not has_apt():
        return False
    say(f"Installing {packages[0]} for the browser tests (apt-get, takes a minute or two)")
    return all(map(quietly, (UPDATE, [*INSTALL, *packages])))


def has_apt() -> bool:
    """Whether packages of Debian or its kin can be installed."""
    return shutil.which("apt-get") is not None and hasattr(os, "geteuid") and os.geteuid() == 0


def install_with_playwright(environment: Environment) -> bool:
    """Let Playwright download the Chromium that it was built for."""
    say("Fetching a Chromium for the browser tests (playwright install, takes a minute or two)")
    return quietly([str(environment.python), "-m", "playwright", "install", "chromium"])


def quietly(command: list[str]) -> bool:
    """Run a command whose output matters only when it fails."""
    outcome = ran(command)
    if outcome.returncode != 0:
        say(f"  {' '.join(command)} failed:\n" + "\n".join(outcome.stdout.splitlines()[-8:]))
    return outcome.returncode == 0


def done(command: list[str]) -> bool:
    """Run a command whose output never matters."""
    return ran(command).returncode == 0


def ran(command: list[str]) -> subprocess.CompletedProcess[str]:
    """How a command went that asks nobody."""
    return subprocess.run(
        command, cwd=ROOT, env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8", errors="replace", check=False,
    )  # fmt: skip
