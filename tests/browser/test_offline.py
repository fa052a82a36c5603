"""A tablet that loses its network or its server: what was saved is on the server once, or waits where it is seen."""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import flask
import pytest
from playwright.sync_api import Page, Request, Route, expect
from werkzeug.exceptions import ServiceUnavailable

from shopfloor.services.station.offline_advice import BATCHES, FURTHER
from shopfloor.web.assets import pages
from shopfloor.web.drawing.life_bar import life_bar
from shopfloor.web.operator import page as station_page
from shopfloor.web.operator.choosing import notice
from tests.browser import chromium
from tests.browser.conftest import Tablet
from tests.browser.network import (
    RUNS,
    SHEET,
    STATUS,
    break_elsewhere,
    cut,
    go,
    keeps,
    log,
    lose_answers,
    nudge,
    other_tap,
    quiet,
    restore,
)
from tests.browser.patience import PATIENCE_S
from tests.browser.reading import faults, lifted, until
from tests.browser.record import asked, stored
from tests.browser.station_page import FLOOR_PX, SAVE, STATION, Finger, settle, small
from tests.decisions import CASES
from tests.numbers_typed import LARGEST, WHOLE

ANY = re.compile("/(sync|operator)/")
NEW_VERSION = "0123456789ab"
ALL_KEPT_FILES_ARE = """version => new Promise((resolve) => {
  const look = async () => {
    const kept = await (await caches.open("shopfloor-files")).keys();
    if (kept.every((request) => request.url.includes(`/${version}/`))) resolve(kept.length);
    else setTimeout(look, 100);
  };
  look();
})"""
"""Resolves once the tablet keeps files of this version alone."""
IS_OLD = "Date.now() - Date.parse(document.getElementById('tray').dataset.drawn) > 2500"
"""Whether the page was drawn so long ago that it cannot be taken for one that just came."""
WITHOUT_TAP_IS_KEPT = """caches.match(location.href, { cacheName: 'shopfloor-pages-en' })
  .then((page) => page.text()).then((text) => text.includes('data-which-tap'))"""


@pytest.fixture
def finger(page: Page) -> Finger:
    """A finger at the station page of a tablet that keeps its pages, lists and risks."""
    settle(page)
    keeps(page)
    return Finger(page)


def test_what_is_saved_without_network_is_sent_in_order(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """Three batches, a reload without network, then the network: three runs, each once."""
    cut(page)
    for holes in ("11", "12"):
        log(finger, holes)
    page.reload()
    expect(page.locator(STATUS)).to_contain_text("2 on this tablet")
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    log(finger, "13")
    expect(page.locator(STATUS)).to_have_text("3 on this tablet, offline")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11, 12, 13] == stored(live_database)
    quiet(page, troubles)


def test_a_lost_answer_does_no_harm(page: Page, finger: Finger, troubles: list[str], live_database: str) -> None:
    """The server stores the run and dies before it answers; it is sent again and stored once."""
    lost = lose_answers(page, RUNS, times=2)
    log(finger, "11")
    expect(page.locator(STATUS)).to_contain_text("1 on this tablet")
    nudge(page)
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert ([201, 200], [11]) == (lost, stored(live_database))
    quiet(page, troubles)


@pytest.mark.parametrize("answer", [{"status": 200, "body": "<h1>Log in to the Wi-Fi</h1>"}, {"status": 502}])
def test_the_answer_of_somebody_else_is_none(
    page: Page, finger: Finger, troubles: list[str], live_database: str, answer: dict[str, Any]
) -> None:
    """A log-in page of the Wi-Fi, a proxy without its server: the entry stays."""
    page.route(RUNS, lambda route: route.fulfill(**answer), times=1)
    log(finger, "11")
    assert [] == stored(live_database)
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11] == stored(live_database)
    quiet(page, troubles)


def test_two_tabs_send_each_entry_once(page: Page, finger: Finger, troubles: list[str], live_database: str) -> None:
    """Both know of both batches, both hear of the network; two runs."""
    other = page.context.new_page()
    other.goto(STATION)
    cut(page)
    log(finger, "11")
    log(Finger(other), "12")
    for tab in (page, other):
        expect(tab.locator(STATUS)).to_contain_text("2 on this tablet")
    restore(page)
    for tab in (page, other):
        expect(tab.locator(STATUS)).to_have_text("All saved")
    assert [11, 12] == stored(live_database)
    quiet(page, troubles)


def test_a_conflict_stays_in_the_tray_until_it_is_put_right(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """The tap broke in another log meanwhile: the entry says so, is put right, and sent under a new id."""
    tap = page.locator(".tap-code").inner_text()
    cut(page)
    log(finger, "11")
    break_elsewhere(page, tap)
    restore(page)
    expect(page.locator(STATUS)).to_have_text("1 needs attention")
    page.locator(STATUS).tap()
    entry = page.locator("#tray .entry").first
    expect(entry).to_contain_text("Needs attention")
    expect(entry.locator(".field-error")).to_contain_text("it was broken before this run")
    assert [] == faults(page)
    entry.get_by_role("button", name="Correct").tap()
    page.get_by_label("Tap", exact=True).fill(other_tap(live_database, tap))
    page.get_by_role("button", name="Send it under a new id").tap()
    expect(page.locator(STATUS)).to_have_text("All saved")
    expect(page.locator("#tray .entry").filter(has_text="Corrected and sent again")).to_be_visible()
    assert 11 in stored(live_database)
    quiet(page, troubles)


def test_a_refused_entry_is_put_aside_with_a_reason(page: Page, finger: Finger, troubles: list[str]) -> None:
    """It stays readable, with the reason, also after the page is opened anew."""
    tap = page.locator(".tap-code").inner_text()
    cut(page)
    log(finger, "11")
    break_elsewhere(page, tap)
    restore(page)
    expect(page.locator(STATUS)).to_have_text("1 needs attention")
    page.locator(STATUS).tap()
    page.get_by_role("button", name="Set aside").tap()
    page.get_by_label("Why should it not be sent?").fill("logged at the other arm")
    page.get_by_role("button", name="Set it aside").tap()
    expect(page.locator(STATUS)).to_have_text("All saved")
    go(page, "/operator/")
    page.locator(STATUS).tap()
    expect(page.locator("#tray .entry").first).to_contain_text("Reason: logged at the other arm")
    quiet(page, troubles)


def test_an_entry_on_the_tablet_is_undone(page: Page, finger: Finger, troubles: list[str], live_database: str) -> None:
    """Never sent, it never reaches the record."""
    cut(page)
    log(finger, "11")
    finger.button("Undo")
    expect(page.get_by_text("Undone: 11 holes on")).to_be_visible()
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [] == stored(live_database)
    quiet(page, troubles)


def test_an_entry_that_may_have_arrived_is_undone_on_the_server(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """The answer was lost: it is sent again, then taken back, and both are on record."""
    lose_answers(page, RUNS, times=1)
    log(finger, "11")
    finger.button("Undo")
    expect(page.get_by_text(re.compile("aken back|Undone: 11 holes")).first).to_be_visible()
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11] == stored(live_database)
    entries = page.context.new_page()
    entries.goto(f"{STATION}entries")
    expect(entries.locator(".entry").first).to_contain_text("undone by the operator")
    quiet(page, troubles)


def test_a_tap_breaks_without_network_and_the_batch_goes_on(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """48 holes, broken at 27; a tap from the box under a code made here; 21 holes with it: one batch on the server."""
    finger.touch(page.locator("[data-fill]"))
    cut(page)
    finger.tile("Broken")
    for key in "27":
        finger.button(key)
    finger.tile("Part scrapped")
    finger.tile("Chips packed")
    finger.button(SAVE)
    dialog = page.get_by_role("dialog")
    expect(dialog.get_by_role("heading", name="Which tap goes in?")).to_be_visible()
    expect(dialog.locator(".tile").filter(has_text="in the crib, bin B6").first).to_be_visible()
    expect(dialog.locator(".tile").first).to_contain_text("gets a code to write on it, bin B5")
    dialog.locator(".tile").first.tap()
    code = dialog.locator(".code-to-write").inner_text()
    dialog.get_by_role("button", name="Close").tap()
    expect(page.locator(".tap-code")).to_have_text(code)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("21")
    lifted(page)
    finger.button(SAVE)
    expect(page.get_by_text(f"On this tablet: 21 holes on {code}")).to_be_visible()
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [27, 21] == stored(live_database)
    assert [(1,)] == asked(live_database, "SELECT COUNT(DISTINCT batch_id) FROM run WHERE rowid > :last")
    quiet(page, troubles)


def test_a_batch_that_goes_on_is_taken_up_when_the_network_is_back(
    page: Page, finger: Finger, troubles: list[str]
) -> None:
    """The tap broke and another was chosen without network: the page of the server offers the rest for that one."""
    finger.touch(page.locator("[data-fill]"))
    cut(page)
    finger.tile("Broken")
    for key in "27":
        finger.button(key)
    finger.tile("Part good")
    finger.button(SAVE)
    tile = page.get_by_role("dialog").locator(".tile").filter(has_text="in the crib").first
    code = tile.locator("strong").inner_text()
    tile.tap()
    expect(page.locator(".tap-code")).to_have_text(code)
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    expect(page.locator(".odds").first).to_be_visible()
    expect(page.locator(".tap-code")).to_have_text(code)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("21")
    quiet(page, troubles)


def test_a_choice_that_the_server_could_not_take_is_told_again(page: Page, finger: Finger, troubles: list[str]) -> None:
    """The first word of it meets a proxy whose server is just starting."""
    told: list[str] = []

    def stumble(route: Route) -> None:
        told.append(route.request.method)
        route.fulfill(status=503)

    cut(page)
    page.locator("#which").tap()
    page.get_by_role("dialog").locator(".tile").filter(has_text="J-1004").tap()
    page.route(f"**{STATION}job", stumble, times=1)
    with page.expect_response(lambda answer: answer.status == 503):
        restore(page)
    assert ["POST"] == told
    nudge(page)
    expect(page.locator("#which")).to_contain_text("J-1004")
    expect(page.locator(".told")).to_have_count(0)
    quiet(page, troubles)


def test_a_page_that_was_kept_is_renewed_where_the_server_answers(
    page: Page, finger: Finger, troubles: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server was too busy for the page and answers again: the page says of when it is, then it is a new one."""
    until(page, IS_OLD)

    def busy(*_: Any) -> NoReturn:
        raise ServiceUnavailable

    with monkeypatch.context() as patched:
        patched.setattr(station_page, "_page", busy)
        page.goto(STATION)
        expect(page.locator(".told")).to_contain_text("The server does not answer. Figures are as of")
    nudge(page)
    expect(page.locator(".told")).to_have_count(0)
    assert page.evaluate("Date.parse(document.getElementById('tray').dataset.drawn) > performance.timeOrigin - 1000")
    quiet(page, troubles)


def test_a_page_kept_a_moment_ago_is_renewed_with_its_news(
    page: Page, finger: Finger, troubles: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server is too busy to say what was saved, and the page in its place is seconds old: the line comes yet."""

    def busy(*_: Any) -> NoReturn:
        raise ServiceUnavailable

    for key in "11":
        finger.button(key)
    finger.button(SAVE)
    expect(page).to_have_url(re.compile(r"\?saved="))
    expect(page.locator(".told")).to_contain_text("Saved: 11 holes on")
    with_news = page.url
    go(page, STATION)
    with monkeypatch.context() as patched:
        patched.setattr(station_page, "_page", busy)
        page.goto(with_news)
        expect(page.locator(".told")).to_contain_text("The server does not answer. Figures are as of")
    nudge(page)
    expect(page.locator(".told")).to_contain_text("Saved: 11 holes on")
    quiet(page, troubles)


def test_the_renewed_page_tells_what_was_saved_without_network(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """The line stays when the page is had anew, and its undo is the server's."""
    cut(page)
    log(finger, "11")
    restore(page)
    expect(page).to_have_url(re.compile(r"\?saved="))
    told = page.locator(".told")
    expect(told).to_contain_text("Saved: 11 holes on")
    told.get_by_role("button", name="Undo").tap()
    expect(page.locator(".told")).to_contain_text("Undone: 11 holes on")
    assert [11] == stored(live_database)
    quiet(page, troubles)


SAVE_AND_LOOK = """() => {
  const form = document.querySelector("form.log");
  form.elements.holes.value = form.elements.holes.dataset.offered = "48";
  form.requestSubmit();
  setInterval(() => dispatchEvent(new Event("online")), 20);
}"""
"""Saves the number that is offered for the rest of a batch, and has the page look at the server all the while."""


def test_a_page_that_is_to_be_renewed_lets_a_save_go_on(
    page: Page, finger: Finger, troubles: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The network is back and the page old; the server takes its time until the page has looked while the save goes."""
    cut(page)
    nudge(page)
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    finger.button("5")
    restore(page)

    seen: list[str] = []
    has_looked = threading.Event()

    def slowly(*asked: Any) -> Any:
        assert "saved" not in flask.request.args or has_looked.wait(PATIENCE_S)
        return notice(*asked)

    def note(request: Request) -> None:
        seen.append(request.url)
        if request.url.endswith("/sync/clock") and any("?saved=" in url for url in seen):
            has_looked.set()

    page.on("request", note)
    monkeypatch.setattr("shopfloor.web.operator.page.notice", slowly)
    page.evaluate(SAVE_AND_LOOK)
    expect(page).to_have_url(re.compile(r"\?saved="))
    expect(page.locator(".told")).to_contain_text("Saved: 48 holes on")
    quiet(page, troubles)


def test_people_change_without_network(page: Page, finger: Finger, troubles: list[str], live_database: str) -> None:
    """The button says who saves; the run says the same; the server knows who is here afterwards."""
    cut(page)
    page.locator("#who").tap()
    other = page.get_by_role("dialog").locator(".tile").filter(has_not_text="Ada K.").first
    name = other.locator("strong").inner_text()
    other.tap()
    for key in "11":
        finger.button(key)
    finger.button(f"Save for {name}")
    expect(page.get_by_text("On this tablet: 11 holes on")).to_be_visible()
    restore(page)
    expect(page.get_by_role("button", name=f"Save for {name}")).to_be_visible()
    expect(page.locator(STATUS)).to_have_text("All saved")
    query = "SELECT person.name FROM run JOIN person ON person.id = run.person_id WHERE run.rowid > :last"
    assert [(name,)] == asked(live_database, query)
    quiet(page, troubles)


def test_a_full_tablet_says_so_before_anything_is_lost(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """Nothing can be kept and nobody answers: the figures stay in the form; once the server answers they are saved."""
    page.evaluate("() => { IDBObjectStore.prototype.put = function () { this.transaction.abort(); }; }")
    cut(page)
    for key in "11":
        finger.button(key)
    finger.button(SAVE)
    expect(page.locator("#error-summary")).to_contain_text("cannot keep any more entries")
    expect(page.get_by_label("Holes", exact=True)).to_have_value("11")
    page.context.set_offline(False)
    lifted(page)
    finger.save()
    assert [11] == stored(live_database)
    quiet(page, troubles)


@pytest.mark.parametrize("hours", [-30, 5])
def test_a_wrong_clock_of_the_tablet_is_put_right(
    open_tablet: Callable[..., Tablet], live_database: str, hours: int
) -> None:
    """A tablet hours ahead or behind: runs are stored at the server's time, in order, and the tray says so."""
    tablet = open_tablet()
    page = tablet.page
    page.add_init_script(f"const now = Date.now; Date.now = () => now() + {hours} * 3600000;")
    settle(page)
    keeps(page)
    cut(page)
    finger = Finger(page)
    log(finger, "11")
    log(finger, "12")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11, 12] == stored(live_database)
    late = "SELECT (julianday(recorded_at) - julianday(ended_at)) * 1440 FROM run WHERE rowid > :last"
    assert all(0 <= minutes < 5 for (minutes,) in asked(live_database, late))
    page.locator(STATUS).tap()
    expect(page.locator("#tray .entry").first).to_contain_text("This tablet's clock was")
    quiet(page, tablet.troubles)


def test_a_page_that_is_not_kept_says_so(page: Page, finger: Finger, troubles: list[str]) -> None:
    """It names the stations that are, and leads there."""
    cut(page)
    page.goto(f"{STATION}entries")
    expect(page.get_by_role("heading", level=1)).to_contain_text("this page is not on the tablet")
    page.locator("[data-kept-stations] .tile").filter(has_text="arm-1").tap()
    expect(page.get_by_role("button", name=SAVE)).to_be_visible()
    quiet(page, troubles)


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)])
def test_without_network_the_station_page_needs_no_scrolling(
    open_tablet: Callable[..., Tablet], size: tuple[int, int]
) -> None:
    """With the word that the server does not answer, and with a batch on the tablet."""
    tablet = open_tablet(*size)
    page = tablet.page
    settle(page)
    keeps(page)
    cut(page)
    page.reload()
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    heights = [page.evaluate("document.documentElement.scrollHeight")]
    log(Finger(page), "11")
    heights.append(page.evaluate("document.documentElement.scrollHeight"))
    assert [size[1]] * 2 == heights
    quiet(page, tablet.troubles)


def test_the_tray_and_the_questions_can_be_read_and_touched(
    page: Page, finger: Finger, troubles: list[str], shot: Callable[[str], Path]
) -> None:
    """By every rule of WCAG 2.2 AA; whatever is touched is at least 76 px."""
    cut(page)
    log(finger, "11")
    expect(page.locator(".tap-holes")).to_contain_text("+ 11 on this tablet")
    shot("station-offline")
    for way, picture in ((STATUS, "tray"), (".tap-head a", "tap-offline")):
        page.locator(way).tap()
        expect(page.locator("dialog[open] h2")).to_be_visible()
        assert ([], []) == (faults(page), small(page, "dialog[open] :is(button, input)", FLOOR_PX))
        shot(picture)
        page.get_by_role("button", name="Close").tap()
    quiet(page, troubles)


def test_on_plain_http_an_open_page_keeps_its_entries_and_says_what_is_missing(
    open_tablet: Callable[..., Tablet], live_server: str, live_database: str
) -> None:
    """No service worker at such an address: the outbox works, reloading without network does not."""
    tablet = open_tablet()
    page = tablet.page
    settle(page, at=f"{live_server.replace('127.0.0.1', chromium.SERVER_NAME)}/operator/")
    assert [False, False] == page.evaluate("[isSecureContext, 'serviceWorker' in navigator]")
    cut(page)
    log(Finger(page), "11")
    page.locator(STATUS).tap()
    expect(page.locator("#tray")).to_contain_text("This address is not https")
    page.keyboard.press("Escape")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11] == stored(live_database)
    quiet(page, tablet.troubles)


def test_without_network_the_risk_is_told_as_last_heard_of(
    page: Page, finger: Finger, troubles: list[str], shot: Callable[[str], Path]
) -> None:
    """The same odds as the server's, with how old they are; higher once more holes were made."""
    odds = page.locator(".risk:visible .odds")
    told = page.locator(".tap-words")
    before = odds.inner_text()
    cut(page)
    nudge(page)
    expect(told).to_contain_text(re.compile(r"As of \d\d:\d\d, \d+ min ago\."))
    expect(odds).to_have_text(before)
    finger.button("9")
    expect(page.locator(".risk:visible")).to_contain_text("to break in the next 9 holes; usual for this job is 1 in")
    for key in ("Clear", "4", "8"):
        finger.button(key)
    expect(odds).to_have_text(before)
    for key in ("Clear", "2", "0", "0"):
        finger.button(key)
    finger.button(SAVE)
    expect(page.get_by_role("button", name="Yes, 200 holes")).to_be_visible()
    lifted(page)
    finger.button("Yes, 200 holes")
    expect(told).to_contain_text("and 200 holes since")
    expect(odds).not_to_have_text(before)
    expect(page.locator(".risk:visible")).to_contain_text(re.compile(r"; usual for this job is 1 in \d+"))
    made = int(told.get_attribute("data-made") or "")
    bar = page.locator(".life-bar:visible")
    expect(bar).to_have_attribute("aria-label", re.compile(f"^{made + 200:,} holes so far, "))
    assert [] == faults(page)
    shot("station-risk-offline")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    quiet(page, troubles)


RISKS = """async ([address, table, asked]) => {
  const { riskAt } = await import(address);
  return asked.map(([since, next]) => riskAt(table, since, next)?.[0] ?? null);
}"""


def test_the_tablet_interpolates_risks(page: Page) -> None:
    """Within 5 % of the law from which a table was drawn up (Weibull, shape 2.5, 400 holes, 100 of them made)."""

    def risk(since: float, holes: float) -> float:
        hazard = [((100 + since + more) / 400) ** 2.5 for more in (0, holes)]
        return -math.expm1(hazard[0] - hazard[1])

    table = {"further": FURTHER, "batches": BATCHES}
    rows = [[[risk(since, holes)] * 3 for holes in BATCHES] for since in FURTHER]
    asked = [(0, 48), (0, 10), (60, 48), (130, 75), (300, 20), (500, 300), (700, 400)]
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/risk.js", page.evaluate(SHEET))
    told = page.evaluate(RISKS, [address, {**table, "risks": rows}, [*asked, (900, 50), (0, 401)]])
    assert pytest.approx([risk(*one) for one in asked], rel=0.05) == told[:-2]
    assert [None, None] == told[-2:]


ACTIONS = """async ([address, cases]) => {
  const { decide } = await import(address);
  return cases.map(([timing, made, batch]) => decide(timing, made, batch));
}"""


def test_the_tablet_decides_as_the_server_does(page: Page) -> None:
    """Of each shared case; and of a table that an earlier version kept, at the very hole."""
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/risk.js", page.evaluate(SHEET))
    assert [action for *_, action in CASES] == page.evaluate(ACTIONS, [address, [case[:3] for case in CASES]])
    kept = [({"change_at": 509}, made, 40) for made in (509, 480, 469, 300)]
    assert ["change now", "change within", "change after", "carry on"] == page.evaluate(ACTIONS, [address, kept])


FAULTS = """async ([address, asked, largest]) => {
  const { faultsOf } = await import(address);
  const run = { rpm: "300", tap_end: "still good" };
  const limits = { ...JSON.parse(document.documentElement.dataset.limits), largest_batch: largest };
  return asked.map((holes) => faultsOf({ ...run, holes }, limits).map(({ remedy }) => remedy));
}"""


def test_the_tablet_reads_whole_numbers_as_the_server_does(page: Page) -> None:
    """What could be thousands or decimals is asked back in the same words."""
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/batch_rules.js", page.evaluate(SHEET))
    told = page.evaluate(FAULTS, [address, [*WHOLE], LARGEST])
    for typed, (read, remedies) in zip(WHOLE, zip(WHOLE.values(), told, strict=True), strict=True):
        asked = f"write {read} if that is meant, or another whole number, with digits only"
        no = "give a whole number from 1 to 5,000"
        assert ([] if isinstance(read, int) else [no if read == "no" else asked]) == remedies, typed


BARS = """async ([address, asked]) => {
  const { shares } = await import(address);
  return asked.map(([made, next, change]) => shares(made, next, change));
}"""


def test_the_tablet_draws_the_bar_of_a_tap_as_the_server_does(page: Page) -> None:
    """Shares of the bar's length, also without a suggested change and beyond it."""
    asked = [(0, 48, 400), (312, 48, 400), (380, 50, 400), (500, 50, 400), (7, 13, None), (0, 0, None)]
    page.goto("/operator/")
    address = re.sub("/bundles/.*", "/js/station/life_bar.js", page.evaluate(SHEET))
    told = page.evaluate(BARS, [address, asked])
    for (made, coming, change), drawn in zip(asked, told, strict=True):
        bar = life_bar(made, coming, change)
        assert bar is not None
        assert pytest.approx((bar.made, bar.coming), abs=0.02) == (drawn["made"], drawn["coming"])
        assert pytest.approx(bar.change, abs=0.02) == drawn["change"]


def test_what_is_half_typed_stays_when_the_network_goes(page: Page, finger: Finger, troubles: list[str]) -> None:
    """The page finds out that the server is away while somebody types."""
    for key in "37":
        finger.button(key)
    cut(page)
    nudge(page)
    expect(page.get_by_text("The server does not answer")).to_be_visible()
    expect(page.get_by_label("Holes", exact=True)).to_have_value("37")
    quiet(page, troubles)


def test_a_new_version_comes_while_entries_wait(
    page: Page, finger: Finger, troubles: list[str], live_database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page that is open keeps what is typed and what waits, and says so; the entry is sent once."""
    page.route(RUNS, lambda route: route.abort())
    log(finger, "11")
    finger.button("7")
    monkeypatch.setattr(pages, "served_version", lambda: NEW_VERSION)
    other = page.context.new_page()
    other.goto(STATION)
    assert NEW_VERSION in other.evaluate(SHEET)
    page.evaluate(ALL_KEPT_FILES_ARE, NEW_VERSION)
    other.close()
    assert NEW_VERSION not in page.evaluate(SHEET)
    expect(page.get_by_label("Holes", exact=True)).to_have_value("7")
    page.locator(STATUS).tap()
    expect(page.locator("#tray")).to_contain_text("A newer version of these pages is available")
    page.get_by_role("button", name="Close").tap()
    page.unroute(RUNS)
    nudge(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11] == stored(live_database)
    cut(page)
    page.reload()
    expect(page.get_by_role("button", name=SAVE)).to_be_visible()
    assert NEW_VERSION in page.evaluate(SHEET)
    log(finger, "12")
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11, 12] == stored(live_database)
    quiet(page, troubles)


def test_without_a_tap_in_the_station_one_is_chosen_and_logged_without_network(
    page: Page, finger: Finger, troubles: list[str], live_database: str
) -> None:
    """The page asks which tap is in; the server is away; the tap is taken from the list, and the batch is logged."""
    known = page.evaluate("async () => (await fetch('/sync/lists/arm-1')).json()")
    here, spare = ({tap["thread"] for tap in known["taps"] if tap["is_here"] is where} for where in (True, False))
    job = next(job["code"] for job in known["jobs"] if job["thread"] in spare - here)
    page.goto(f"{STATION}job")
    page.evaluate("code => document.querySelector(`button[value='${code}']`).click()", job)
    expect(page.get_by_role("heading", name=re.compile("Fit the right tap|Which tap is in"))).to_be_visible()
    expect(page.get_by_role("button", name=SAVE)).to_have_count(0)
    until(page, WITHOUT_TAP_IS_KEPT)
    cut(page)
    tile = page.locator("button.tile-tap[name=tap]").first
    code = tile.locator(".tile-code").inner_text()
    tile.tap()
    expect(page.locator(".tap-code")).to_have_text(code)
    assert [] == faults(page)
    log(finger, "11")
    page.reload()
    expect(page.locator(".tap-code")).to_have_text(code)
    restore(page)
    expect(page.locator(STATUS)).to_have_text("All saved")
    assert [11] == stored(live_database)
    expect(page.locator(".risk .odds")).to_be_visible()
    expect(page.locator(".tap-code")).to_have_text(code)
    quiet(page, troubles)
