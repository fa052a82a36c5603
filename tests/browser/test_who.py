"""A shared tablet with PINs in use: who is there, change of person, the lock, a log-in that ends without network."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from shopfloor.cli.options import open_work
from shopfloor.services.access import tablets
from shopfloor.services.access.attempts import release, release_tablet
from shopfloor.services.access.credentials import first_supervisor, give_secret
from shopfloor.services.access.log_in import end_log_ins
from shopfloor.services.access.rules import use_pins
from shopfloor.services.record.revisions import person_of
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from tests.browser.network import STATUS, cut, keeps, nudge, quiet, restore
from tests.browser.reading import SIZES, faults, is_dark, lifted, shining
from tests.browser.record import asked
from tests.browser.station_page import FLOOR_PX, LARGE_PX, STATION, TOUCHED, Finger, OpenTablet, small

PINS = {"ada": "271828", "ben": "314159"}
PASSWORD = "seven-blunt-taps"
MOST_TOUCHES = 4


@pytest.fixture
def work(live_database: str, tmp_path: Path) -> Iterator[Work]:
    """The shop with PINs in use: Femi is its supervisor, Ada and Ben have theirs."""
    with open_work(Settings(database=live_database, data_folder=tmp_path / "instance")) as work:
        first_supervisor(work, {"person": "femi", "secret": PASSWORD, "again": PASSWORD})
        for person, pin in PINS.items():
            give_secret(work, {"person": person, "secret": pin, "again": pin})
        use_pins(work, is_in_use=True)
        yield work


def enrol(work: Work, context: BrowserContext, address: str, name: str = "Arm 1") -> None:
    """The browser is a tablet that a supervisor enrolled."""
    _, token = tablets.enrol(work, name, "femi")
    context.add_cookies([{"name": "shopfloor-tablet", "value": token, "url": address, "httpOnly": True}])


@pytest.fixture
def lock(work: Work, page: Page, live_server: str) -> Page:
    """The tablet with the names on it."""
    enrol(work, page.context, live_server)
    page.goto("/operator/")
    return page


def log_in(page: Page, name: str = "Ada K.", pin: str = PINS["ada"]) -> int:
    """Touch the name, the digits and the button; returns the touches."""
    finger = Finger(page)
    finger.touch(page.locator(".tile").filter(has_text=name))
    for digit in pin:
        finger.button(digit)
    finger.button("Log in")
    page.wait_for_url(lambda url: "/who" not in url.split("?")[0])
    return finger.touches


@pytest.fixture
def station(lock: Page) -> Page:
    """Ada is logged in at arm 1 and works on a job; the tablet has what it needs without network."""
    log_in(lock)
    choose_job(lock)
    keeps(lock)
    return lock


def choose_job(page: Page, name: str = "Ada K.") -> None:
    """Arm 1, and the job: two touches that the tablet remembers."""
    for tile in ("Tapping arm 1", "J-1002"):
        page.locator(".tile:visible").filter(has_text=tile).first.tap()
        page.wait_for_load_state()
    expect(page.get_by_role("button", name=f"Save for {name}")).to_be_visible()


def stored(database: str) -> list[tuple[str, int]]:
    """Who made how many holes, of the runs that the record got in this test."""
    query = """SELECT person.code, holes FROM run JOIN person ON person.id = run.person_id
      WHERE run.rowid > :last ORDER BY ended_at, position"""
    return [(str(code), int(holes)) for code, holes in asked(database, query)]


def log(page: Page, holes: str, name: str = "Ada K.") -> None:
    """Type the holes and save."""
    finger = Finger(page)
    for key in holes:
        finger.button(key)
    finger.button(f"Save for {name}")


def test_a_name_a_pin_and_a_batch(lock: Page, live_database: str, shot: Callable[[str], Path]) -> None:
    """Eight touches to log in with six digits; the ordinary batch then takes two, at most four were allowed."""
    expect(lock.get_by_role("heading", name="Who are you?")).to_be_visible()
    shot("who")
    assert 8 == log_in(lock)
    choose_job(lock)
    finger = Finger(lock)
    finger.touch(lock.locator("[data-fill]"))
    finger.save()
    assert 2 == finger.touches <= MOST_TOUCHES
    expect(lock.get_by_text("Saved: 48 holes on")).to_be_visible()
    assert [("ada", 48)] == stored(live_database)


def test_wrong_pins_have_to_wait(lock: Page, work: Work, troubles: list[str], shot: Callable[[str], Path]) -> None:
    """Four are free; after the fifth even the right one has to wait, until a supervisor lets her in."""
    lock.locator(".tile").filter(has_text="Ada K.").tap()
    for _ in range(5):
        lock.locator("#secret").fill("424242")
        with lock.expect_navigation():
            lock.get_by_role("button", name="Log in").tap()
        expect(lock.locator("#error-summary")).to_contain_text("it does not fit")
    shot("who-pin")
    lock.locator("#secret").fill(PINS["ada"])
    lock.get_by_role("button", name="Log in").tap()
    expect(lock.locator("#error-summary")).to_contain_text("too many wrong attempts; wait")
    release(work, "ada")
    for tablet in tablets.tablets(work):
        release_tablet(work, tablet.id)
    lock.locator("#secret").fill(PINS["ada"])
    lock.get_by_role("button", name="Log in").tap()
    expect(lock.get_by_role("heading", name="Which station?")).to_be_visible()
    assert all("400" in trouble or "429" in trouble for trouble in troubles)
    troubles.clear()


def test_change_of_person_keeps_the_half_filled_form(station: Page, live_database: str) -> None:
    """Ada typed 31; Ben logs 12 meanwhile; back again, Ada's 31 and her slip are there."""
    finger = Finger(station)
    for key in "31":
        finger.button(key)
    finger.button("One cutting slip more")
    station.locator("#who").tap()
    log_in(station, "Ben O.", PINS["ben"])
    expect(station.get_by_role("button", name="Save for Ben O.")).to_be_visible()
    expect(station.get_by_label("Holes", exact=True)).to_have_value("")
    log(station, "12", "Ben O.")
    expect(station.get_by_text("Saved: 12 holes on")).to_be_visible()
    station.locator("#who").tap()
    log_in(station)
    expect(station.get_by_text("What you had typed has been restored.")).to_be_visible()
    expect(station.get_by_label("Holes", exact=True)).to_have_value("31")
    station.get_by_role("button", name="Save for Ada K.").tap()
    expect(station.get_by_text("Saved: 31 holes on")).to_be_visible()
    assert [("ben", 12), ("ada", 31)] == stored(live_database)


def test_the_tablet_locks_when_nobody_touches_it(station: Page) -> None:
    """Ten minutes without a touch, but never over a half-filled form."""
    station.clock.install()
    station.goto(STATION)
    Finger(station).button("5")
    told: list[str] = []
    station.on("request", lambda request: told.append(request.url))
    station.clock.fast_forward("12:00")
    station.evaluate("fetch('/sync/clock').then((answer) => answer.status)")
    assert not [url for url in told if url.endswith("/sync/lock")]
    expect(station.get_by_label("Holes", exact=True)).to_have_value("5")
    Finger(station).button("Clear")
    station.clock.fast_forward("12:00")
    expect(station.get_by_role("heading", name="Who are you?")).to_be_visible()
    station.goto(STATION)
    expect(station.get_by_role("heading", name="Who are you?")).to_be_visible()


def test_a_log_in_that_ends_without_network_stops_nobody(
    station: Page, work: Work, troubles: list[str], live_database: str, shot: Callable[[str], Path]
) -> None:
    """Two batches wait; back again, the tray asks for the PIN, and each is stored once, by whoever made it."""
    cut(station)
    log(station, "11")
    expect(station.get_by_text("On this tablet: 11 holes on")).to_be_visible()
    end_log_ins_of(work, "ada")
    lifted(station)
    log(station, "13")
    expect(station.get_by_text("On this tablet: 13 holes on")).to_be_visible()
    restore(station)
    nudge(station)
    expect(station.locator(STATUS)).to_contain_text("2 on this tablet, PIN needed")
    station.locator(STATUS).tap()
    expect(station.locator("#tray")).to_contain_text("2 entries are waiting for the PIN of Ada K.")
    assert [] == stored(live_database)
    shot("who-waiting")
    station.locator("#tray").get_by_role("button", name="Give the PIN").tap()
    for digit in PINS["ada"]:
        station.locator("#pin").get_by_role("button", name=digit, exact=True).tap()
    shot("who-tray-pin")
    assert [] == faults(station)
    station.get_by_role("button", name="Send the entries").tap()
    expect(station.locator(STATUS)).to_have_text("All saved")
    assert [("ada", 11), ("ada", 13)] == stored(live_database)
    quiet_but_for_pins(station, troubles)


def test_a_name_is_enough_without_network(station: Page, troubles: list[str], live_database: str) -> None:
    """Ben takes over where nobody can check his PIN: his batch waits for it, Ada's does not."""
    cut(station)
    log(station, "11")
    expect(station.get_by_text("On this tablet: 11 holes on")).to_be_visible()
    station.locator("#who").tap()
    station.locator("#question .tile").filter(has_text="Ben O.").tap()
    lifted(station)
    log(station, "13", "Ben O.")
    expect(station.get_by_text("On this tablet: 13 holes on")).to_be_visible()
    station.locator(STATUS).tap()
    expect(station.locator("#tray .entry").first).to_contain_text("Not confirmed by PIN")
    station.locator("[data-tray-close]").tap()
    restore(station)
    nudge(station)
    expect(station.locator(STATUS)).to_contain_text("1 on this tablet, PIN needed")
    assert [("ada", 11)] == stored(live_database)
    station.get_by_role("button", name="Give the PIN").first.tap()
    station.locator("#kept-pin").fill(PINS["ben"])
    station.get_by_role("button", name="Send the entries").tap()
    expect(station.locator(STATUS)).to_have_text("All saved")
    assert [("ada", 11), ("ben", 13)] == stored(live_database)
    quiet_but_for_pins(station, troubles)


def test_the_lock_screen_without_network(station: Page, troubles: list[str], live_database: str) -> None:
    """The tablet was locked when the network went: a name leads to the kept page, and nothing is lost."""
    station.locator("#who").tap()
    station.get_by_role("button", name="Lock this tablet").tap()
    expect(station.get_by_role("heading", name="Who are you?")).to_be_visible()
    cut(station)
    station.locator(".tile").filter(has_text="Ben O.").tap()
    expect(station.get_by_role("button", name="Save for Ben O.")).to_be_visible()
    log(station, "13", "Ben O.")
    expect(station.get_by_text("On this tablet: 13 holes on")).to_be_visible()
    restore(station)
    nudge(station)
    station.get_by_role("button", name="Give the PIN").first.tap()
    station.locator("#kept-pin").fill(PINS["ben"])
    station.get_by_role("button", name="Send the entries").tap()
    expect(station.locator(STATUS)).to_have_text("All saved")
    assert [("ben", 13)] == stored(live_database)
    quiet_but_for_pins(station, troubles)


def test_everything_works_without_a_script(
    open_tablet: OpenTablet, work: Work, live_server: str, live_database: str
) -> None:
    """Name, PIN, batch, as plain forms."""
    page = open_tablet(java_script_enabled=False).page
    enrol(work, page.context, live_server)
    page.goto("/operator/")
    page.locator(".tile").filter(has_text="Ada K.").tap()
    page.locator("#secret").fill(PINS["ada"])
    page.get_by_role("button", name="Log in").tap()
    choose_job(page)
    page.get_by_label("Holes", exact=True).fill("9")
    page.get_by_role("button", name="Save for Ada K.").tap()
    expect(page.get_by_text("Saved: 9 holes on")).to_be_visible()
    assert [("ada", 9)] == stored(live_database)


@pytest.mark.parametrize("size", SIZES)
def test_the_lock_screen_is_large_and_complete(
    open_tablet: OpenTablet, work: Work, live_server: str, size: tuple[int, int]
) -> None:
    """Whatever is touched is at least 76 px, names and keys 104; nothing scrolls sideways; axe finds nothing."""
    page = open_tablet(*size).page
    enrol(work, page.context, live_server)
    for address in ("/operator/who", "/operator/who/pin?person=ada"):
        page.goto(address)
        assert [] == small(page, TOUCHED, FLOOR_PX), address
        assert [] == small(page, ".tile, .key, .save", LARGE_PX), address
        assert size[0] >= page.evaluate("document.documentElement.scrollWidth"), address
        assert [] == faults(page), address


def test_the_lock_screen_does_not_dazzle_by_night(open_tablet: OpenTablet, work: Work, live_server: str) -> None:
    """Dark, and axe finds nothing; nor of the name in the header afterwards."""
    page = open_tablet(color_scheme="dark").page
    enrol(work, page.context, live_server)
    for address in ("/operator/who", "/operator/who/pin?person=ada"):
        page.goto(address)
        assert is_dark(page), address
        assert [] == shining(page) + faults(page), address
    page.goto("/operator/")
    log_in(page)
    assert [] == shining(page) + faults(page)


def end_log_ins_of(work: Work, person: str) -> None:
    """The log-in is over, as after a shift."""
    with work.write() as session:
        end_log_ins(session, work.clock() - timedelta(minutes=1), person=person_of(session, person).id)


def quiet_but_for_pins(page: Page, troubles: list[str]) -> None:
    """A browser tells of each answer that the PIN is needed; nothing else may be told."""
    troubles[:] = [trouble for trouble in troubles if "status of 401" not in trouble]
    quiet(page, troubles)
