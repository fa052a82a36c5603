"""The language of a page: chosen on the tablet, else the shop's, else the browser's."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, tzinfo
from typing import Any

import pytest
from flask.testing import FlaskClient

from shopfloor.app import create_app
from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.input.reader import Reader
from shopfloor.core.phrases import (
    both_lengths,
    figure,
    joined,
    largest_thread,
    length,
    phrase,
    phrase_of,
    surface_speed,
    torque,
)
from shopfloor.core.units import Units
from shopfloor.web.i18n import formats
from shopfloor.web.i18n.language import say
from shopfloor.web.i18n.measures import show_in
from tests.web.conftest import Shop

START = "/operator/"


def spoken(client: FlaskClient, **headers: str) -> str:
    """The language that the page says it is in."""
    text = client.get(START, headers=headers).text
    return text.partition('<html lang="')[2][:2]


def test_a_tablet_keeps_the_language_that_was_chosen_on_it(client: FlaskClient) -> None:
    """One touch, and every later page speaks it."""
    answer = client.get("/language/es?back=/operator/")
    assert (303, "/operator/") == (answer.status_code, answer.location)
    assert "¿Qué estación?" in client.get(START).text
    assert "Which station?" in client.get("/language/en?back=/operator/", follow_redirects=True).text


def test_a_browser_is_spoken_to_in_its_language(client: FlaskClient) -> None:
    """As long as nobody has chosen another one."""
    wanted = {"en": "en-US,en;q=0.9", "es": "es-MX,es;q=0.9,en;q=0.8"}
    assert wanted.keys() == {spoken(client, **{"Accept-Language": value}) for value in wanted.values()}
    assert "en" == spoken(client, **{"Accept-Language": "fi"})


def test_the_shops_language_goes_before_the_browsers(shop: Shop) -> None:
    """A tablet set up in a factory far away speaks English by itself."""
    settings = replace(shop.work.settings, language="es")
    app = create_app(replace(shop.work, settings=settings))
    assert "es" == spoken(app.test_client(), **{"Accept-Language": "en-US"})


@pytest.mark.parametrize("address", ["https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", ""])
def test_a_change_of_language_leads_nowhere_else(client: FlaskClient, address: str) -> None:
    """Only to pages of this server."""
    assert "/" == client.get("/language/es", query_string={"back": address}).location


def test_a_language_that_nobody_speaks_is_not_found(client: FlaskClient) -> None:
    """Only languages with a catalogue can be chosen."""
    assert 404 == client.get("/language/tlh").status_code


def test_a_phrase_is_its_english() -> None:
    """Programs and the terminal need no catalogue."""
    assert "1,500 holes" == phrase_of(1500, "{n} hole", "{n} holes", n=1500)
    assert "1 hole" == phrase_of(1, "{n} hole", "{n} holes", n=1)
    assert "not known, '1.5' cannot be" == joined([phrase("not known"), phrase("{text} cannot be", text="'1.5'")])


def test_a_phrase_is_said_with_its_values_in_the_pages_language(client: FlaskClient) -> None:
    """Numbers are written as the language writes them."""
    with client.application.test_request_context(headers={"Accept-Language": "es"}):
        assert "hace 12\u202f500 días" == say(phrase_of(12500, "{n} day ago", "{n} days ago", n=12500))
        assert "1 de cada 12, sin límite" == say(joined([phrase("1 in {n}", n=12), phrase("no limit")]))
        assert "no text of ours" == say("no text of ours")


@contextmanager
def page_of(shop: Shop, language: str, **settings: Any) -> Iterator[tzinfo]:
    """A page in that language, of a shop with these settings; the shop's zone."""
    app = create_app(replace(shop.work, settings=replace(shop.work.settings, **settings)))
    with app.test_request_context(headers={"Cookie": f"language={language}"}):
        yield replace(shop.work.settings, **settings).zone


@pytest.mark.parametrize(
    ("language", "region", "number", "moment"),
    [
        ("en", "", "12,345.5", "2026-03-31 14:05"),
        ("es", "", "12\u202f345,5", "2026-03-31 14:05"),
        ("en", "US", "12,345.5", "Mar 31, 2026 2:05\u202fPM"),
        ("en", "GB", "12,345.5", "31 Mar 2026 14:05"),
        ("es", "MX", "12,345.5", "31 mar 2026 2:05\u202fp.m."),
        ("es", "AR", "12.345,5", "31 mar 2026 2:05\u202fp.\u202fm."),
        ("es", "ES", "12.345,5", "31 mar 2026 14:05"),
        ("en", "MX", "12,345.5", "2026-03-31 14:05"),
    ],
)
def test_numbers_and_times_are_written_as_in_the_shops_country(
    shop: Shop, language: str, region: str, number: str, moment: str
) -> None:
    """By the Unicode locale data; where nobody has named the country, in a way that no country misreads."""
    with page_of(shop, language, region=region, time_zone="America/Monterrey"):
        assert number == formats.decimal(12345.5, 6)
        assert moment == formats.local_time(datetime(2026, 3, 31, 20, 5, tzinfo=UTC))


def test_what_a_form_takes_is_the_same_in_every_country(shop: Shop) -> None:
    """A time that stands in a field is read again as it stands there."""
    with page_of(shop, "en", region="US"):
        assert "2026-03-31 20:05" == formats.typed_time(datetime(2026, 3, 31, 20, 5, tzinfo=UTC))


def test_a_time_that_comes_twice_is_read_as_it_was(shop: Shop) -> None:
    """When clocks go back in Madrid, 02:30 comes at 00:30 and at 01:30 UTC; each is read back as itself."""
    for hour, told in ((0, "2026-10-25 02:30"), (1, "2026-10-25 02:30+01:00"), (2, "2026-10-25 03:30")):
        moment = datetime(2026, 10, 25, hour, 30, tzinfo=UTC)
        with page_of(shop, "es", time_zone="Europe/Madrid") as zone:
            assert told == formats.typed_time(moment)
            read = Reader({"at": told}).moment("at", zone, moment)
            assert read is not None
            assert moment == read.astimezone(UTC)


@pytest.mark.parametrize("day", ["2026-09-06", "2026-04-05", "2026-07-01"])
def test_a_day_without_midnight_is_shown_without_a_time(shop: Shop, day: str) -> None:
    """In Santiago clocks go forward at midnight, so that a day begins at 01:00: no file said so."""
    with page_of(shop, "es", region="CL", time_zone="America/Santiago") as zone:
        moment = Reader({"at": day}).moment("at", zone, datetime(2027, 1, 1, tzinfo=UTC))
        assert moment is not None
        assert (day, "") == (formats.typed_time(moment), formats.local_clock(moment))


def test_lengths_and_speeds_are_said_in_the_units_of_the_job(shop: Shop) -> None:
    """To a thousandth of an inch, as drawings have them; a job that says nothing follows the shop."""
    told = phrase(
        "{depth} at {speed}, {torque} N m", depth=length(12.7), speed=surface_speed(7.5), torque=figure("1.5")
    )
    assert "12.7 mm at 7.5 m/min, 1.5 N m" == told
    with page_of(shop, "es", units="inch"):
        assert "0,500\u00a0in at 25\u00a0ft/min, 1,5 N m" == say(told)
        show_in(Units.METRIC)
        assert "12,7\u00a0mm at 7,5\u00a0m/min, 1,5 N m" == say(told)


@pytest.mark.parametrize(
    ("value", "metric", "inch"),
    [
        (torque(12), "12\u00a0N\u00a0m", "106\u00a0in-lb (12\u00a0N\u00a0m)"),
        (torque(55), "55\u00a0N\u00a0m", "40,6\u00a0ft-lb (55\u00a0N\u00a0m)"),
        (torque(0.75), "0,75\u00a0N\u00a0m", "6,6\u00a0in-lb (0,75\u00a0N\u00a0m)"),
        (largest_thread(12), "12\u00a0mm (M12)", "0,472\u00a0in (7/16-14 UNC)"),
        (largest_thread(15.875), "15,9\u00a0mm (M14)", "0,625\u00a0in (5/8-11 UNC)"),
        (largest_thread(0.5), "0,5\u00a0mm", "0,020\u00a0in"),
        (both_lengths(12.7), "12,7\u00a0mm (0,500\u00a0in)", "0,500\u00a0in (12,7\u00a0mm)"),
        (SpeedBand.parse("1.6-2.5 m/min").told, "1,6-2,5\u00a0m/min", "5-8\u00a0ft/min"),
        (date(2026, 3, 31), "2026-03-31", "2026-03-31"),
    ],
)
def test_quantities_are_told_in_the_units_of_the_shop(shop: Shop, value: object, metric: str, inch: str) -> None:
    """Torque also in pounds (1 ft-lb is 1.355818 N m, NIST SP 811, appendix B), threads by that system's series."""
    for units, told in (("metric", metric), ("inch", inch)):
        with page_of(shop, "es", units=units):
            assert told == say(phrase("{value}", value=value))


def test_an_instant_is_told_as_the_country_writes_it(shop: Shop) -> None:
    """Also within a sentence; it comes in the shop's zone."""
    told = phrase("used on {at}", at=datetime(2026, 3, 31, 14, 5, tzinfo=UTC))
    assert "used on 2026-03-31 14:05" == told
    with page_of(shop, "en", region="US"):
        assert "used on Mar 31, 2026 2:05\u202fPM" == say(told)


def test_a_length_of_thread_is_written_as_the_page_writes_numbers(shop: Shop) -> None:
    """In metres and feet, those of the shop first."""
    with page_of(shop, "es"):
        assert "1234,5\u00a0m (4050\u00a0ft)" == formats.thread_length(1234.5)
    with page_of(shop, "en", units="inch"):
        assert "16\u00a0ft (4.9\u00a0m)" == formats.thread_length(4.9)
