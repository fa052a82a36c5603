"""The operator's pages in each language, by day and by night: whole, legible, and in one language also offline."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.operator import offline
from tests.browser.network import nudge, quiet
from tests.browser.reading import SIZES, faults, is_dark, is_wider_than_the_screen, shining, small_targets, until
from tests.browser.station_page import SAVE_IN, STATION, OpenTablet, settle_in

ADDRESSES = (
    "/",
    "/operator/",
    "/operator/offline",
    *(STATION + at for at in ("", "person", "job", "next-tap", "entries", "card")),
)
KEY_PX = {(1280, 800): 118, (800, 1280): 118, (1180, 820): 104}
"""20 mm on a tablet of 10.1 inches, and on one of 10.9, by its width and height."""
ASKS_BY_ITSELF = "  await skipWaiting();\n"
WORKERS = "navigator.serviceWorker.getRegistration().then(({{ waiting, active }}) => {})"
LOCALES = {"en": "en-US", "es": "es-MX"}

OFFLINE = {
    STATION: "registrar una tanda",
    f"{STATION}card": "Hoja de preparación",
    "/operator/never-opened/": "Sin red, y esta página no está en la tableta",
}
"""What pages say in Spanish without network; the card was only opened in English before."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("language", [*SAVE_IN])
def test_nobody_stumbles_in_any_language_by_day_or_night(open_tablet: OpenTablet, language: str, scheme: str) -> None:
    """Nothing that axe finds, no target too small, nothing beyond the screen's side, on any page of the operator's."""
    page = open_tablet(color_scheme=scheme).page
    settle_in(page, language)
    for address in ADDRESSES:
        page.goto(address)
        assert language == page.locator("html").get_attribute("lang")
        assert (scheme == "dark") == is_dark(page), address
        assert not is_dark(page) or [] == shining(page), address
        assert [] == faults(page), address
        assert [] == small_targets(page), address
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert not is_wider_than_the_screen(page), (address, width)


@pytest.mark.parametrize("language", [*SAVE_IN])
@pytest.mark.parametrize(("width", "height"), KEY_PX)
def test_an_ordinary_batch_takes_no_scrolling(open_tablet: OpenTablet, language: str, width: int, height: int) -> None:
    """Nothing of the page is out of sight, although Spanish words are longer; the keys stay 20 mm and more."""
    page = open_tablet(width, height).page
    settle_in(page, language)
    assert height >= page.evaluate("document.documentElement.scrollHeight")
    box = page.locator(".key").first.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= KEY_PX[width, height]


def test_the_language_of_the_browser_is_spoken_until_another_is_chosen(open_tablet: OpenTablet) -> None:
    """Then the tablet keeps the choice; the page stays the same one."""
    page = open_tablet(locale=LOCALES["es"]).page
    page.goto("/operator/")
    expect(page.get_by_role("heading", level=1)).to_have_text("¿Qué estación?")
    page.get_by_role("link", name="English").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Which station?")
    assert page.url.endswith("/operator/")


def test_a_page_without_network_speaks_the_language_chosen_last(open_tablet: OpenTablet) -> None:
    """The service worker keeps its pages in it, those too that it had kept in another one."""
    tablet = open_tablet()
    page = tablet.page
    settle_in(page, "en")
    until(page, "navigator.serviceWorker.ready.then(() => true)")
    until(page, "navigator.serviceWorker.controller !== null")
    page.goto(f"{STATION}card")
    page.goto(f"/language/es?back={STATION}")
    kept = "caches.keys().then((names) => names.filter((name) => name.includes('pages')).join())"
    until(page, f"{kept}.then((names) => names === 'shopfloor-pages-es')")
    page.context.set_offline(True)
    for address, heading in OFFLINE.items():
        page.goto(address)
        expect(page.get_by_role("heading", level=1)).to_contain_text(heading)
    quiet(page, tablet.troubles)


def test_a_worker_that_is_kept_waiting_is_let_in(
    open_tablet: OpenTablet, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A busy browser may forget that the new worker asked to come in; here it does not even ask by itself."""
    script = (STATIC / "js" / "worker.js").read_text(encoding="utf-8")
    assert 1 == script.count(ASKS_BY_ITSELF)
    (tmp_path / "js").mkdir()
    (tmp_path / "js" / "worker.js").write_text(script.replace(ASKS_BY_ITSELF, ""), encoding="utf-8")
    monkeypatch.setattr(offline, "STATIC", tmp_path)
    page = open_tablet().page
    settle_in(page, "en")
    until(page, "navigator.serviceWorker.ready.then(() => true)")
    page.goto(f"/language/es?back={STATION}")
    until(page, WORKERS.format("(waiting ?? active).scriptURL.includes('language=es')"))
    nudge(page)
    until(page, WORKERS.format("active.scriptURL.includes('language=es')"))
