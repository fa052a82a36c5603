"""Makes sure that the browser tests find a Chromium; standard library only."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence

from environment import ROOT, Environment, say

LOOK = ["-m", "tests.browser.chromium"]
"""Prints the browser that the tests will use; fails if there is none."""


def ensure(environment: Environment) -> None:
    """Find a browser or install one; otherwise say what is missing and go on without."""
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


def install_from_distribution(_: Environment) -> bool:
    """Install the distribution's own Chromium and a font for it."""
    return install_with_apt("chromium", "fonts-liberation")


def install_with_apt(*packages: str) -> bool:
    """Install packages on Debian and its derivatives, as root."""
    if shutil.which("apt-get") is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return False
    say(f"Installing {packages[0]} for the browser tests (apt-get, takes a minute or two)")
    surroundings = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    commands = (
        ["apt-get", "update", "-qq"],
        ["apt-get", "install", "-qq", "-y", "--no-install-recommends", *packages],
    )
    return all(quietly(command, surroundings) for command in commands)


def install_with_playwright(environment: Environment) -> bool:
    """Let Playwright download the Chromium that it was built for."""
    say("Fetching a Chromium for the browser tests (playwright install, takes a minute or two)")
    return quietly([str(environment.python), "-m", "playwright", "install", "chromium"], dict(os.environ))


def quietly(command: list[str], surroundings: dict[str, str]) -> bool:
    """Run a command whose output matters only when it fails."""
    done = subprocess.run(
        command, cwd=ROOT, env=surroundings, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, encoding="utf-8", errors="replace", check=False,
    )  # fmt: skip
    if done.returncode != 0:
        say(f"  {' '.join(command)} failed:\n" + "\n".join(done.stdout.splitlines()[-8:]))
    return done.returncode == 0
