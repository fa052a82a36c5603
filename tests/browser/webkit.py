"""Which WebKit the tests use and how it is started; `python -m tests.browser.webkit` prints it, or fails when there is
none.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from selenium.webdriver.common.proxy import Proxy, ProxyType
from selenium.webdriver.remote.client_config import ClientConfig
from selenium.webdriver.remote.remote_connection import RemoteConnection
from selenium.webdriver.remote.webdriver import WebDriver
from selenium.webdriver.webkitgtk.options import Options
from selenium.webdriver.webkitgtk.service import Service

from tests.browser.patience import PATIENCE_S

BROWSERS = "*/webkit*gtk-*/MiniBrowser"
"""Below the folder of libraries: the browser is no command on the path."""

SCREEN = "1280x1000x24"
NO_SANDBOX = "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS"
"""The sandbox works neither as root nor in most containers; these tests open no pages but our own."""


@dataclass(frozen=True)
class WebKit:
    """The programs that drive a WebKit without a screen."""

    driver: str
    browser: str
    screen: str


def find() -> WebKit | None:
    """WebKitGTK's small browser with its driver and a screen in memory, as Debian has them."""
    driver, screen = shutil.which("WebKitWebDriver"), shutil.which("Xvfb")
    browsers = sorted(Path("/usr/lib").glob(BROWSERS))
    return WebKit(driver, str(browsers[-1]), screen) if driver and screen and browsers else None


def can_be_had() -> bool:
    """Whether this system has the packages, so that their absence is a fault of the set-up."""
    return sys.platform == "linux" and Path("/etc/debian_version").exists()


@contextmanager
def running(webkit: WebKit) -> Iterator[WebDriver]:
    """A browser of that kind."""
    with screen_of(webkit) as display, driver_of(webkit, display) as address:
        options = Options()
        options.binary_location = webkit.browser
        options.add_argument("--automation")
        direct = Proxy({"proxyType": ProxyType.DIRECT})
        connection = RemoteConnection(client_config=ClientConfig(address, proxy=direct, timeout=PATIENCE_S))
        browser = WebDriver(connection, options=options)
        try:
            yield browser
        finally:
            browser.quit()


@contextmanager
def screen_of(webkit: WebKit) -> Iterator[str]:
    """A screen in memory under the first number that is free."""
    command = [webkit.screen, "-displayfd", "1", "-screen", "0", SCREEN, "-nolisten", "tcp"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            assert process.stdout is not None
            yield f":{process.stdout.readline().strip()}"
        finally:
            process.terminate()


@contextmanager
def driver_of(webkit: WebKit, display: str) -> Iterator[str]:
    """The address of a driver whose browser shows itself on that screen."""
    service = Service(executable_path=webkit.driver, env={**os.environ, "DISPLAY": display, NO_SANDBOX: "1"})
    service.start()
    try:
        yield service.service_url
    finally:
        service.stop()


if __name__ == "__main__":
    found = find()
    sys.stdout.write(f"{found.driver} with {found.browser}\n" if found else "")
    sys.exit(0 if found else 1)
