"""A shop that starts from nothing names its people, stations, materials and jobs."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select

from shopfloor.app import create_app
from shopfloor.core.vocabulary import IsoGroup
from shopfloor.store import Job, Material, Person, Station
from tests.web.conftest import Shop
from tests.web.setup.things import GOOD

TABLES: dict[str, Any] = {"people": Person, "stations": Station, "materials": Material, "jobs": Job}


@pytest.mark.parametrize("kind", GOOD)
def test_one_more_is_added_and_listed(shop: Shop, client: FlaskClient, kind: str) -> None:
    """The page says what was added, and the list has it."""
    before = shop.count(TABLES[kind])
    answer = client.post(f"/setup/{kind}", data=GOOD[kind], follow_redirects=True)
    assert (200, before + 1) == (answer.status_code, shop.count(TABLES[kind]))
    assert f"Added: {GOOD[kind]['code']}" in answer.text
    assert "Set up" in client.get("/setup/").text


def test_a_fixed_speed_is_listed_as_one(client: FlaskClient) -> None:
    """Not as a range from itself to itself, neither where stations are named nor where one is chosen."""
    assert "Powered arm, air, 350 rpm (fixed)" in client.get("/setup/stations").text
    start = client.get("/operator/").text
    assert "350 rpm (fixed)" in start
    assert "25 to 500 rpm" in start


def test_a_jobs_values_arrive_with_their_types(shop: Shop, client: FlaskClient) -> None:
    """Depth, day and hole are read as meant."""
    client.post("/setup/jobs", data=GOOD["jobs"])
    with shop.work.read() as session:
        job = session.scalars(select(Job).where(Job.code == "J-9")).unique().one()
        assert (12.5, True, "2026-04-01", 6) == (job.depth_mm, job.is_blind, str(job.due_on), job.holes_per_part)
        assert (7.9, 20, True, False) == (job.drilled_mm, job.drill_depth_mm, job.is_chamfered, job.is_reamed)


def test_a_station_says_what_it_can_drive(shop: Shop, client: FlaskClient) -> None:
    """Torque, reducer and the largest thread of each group that is stated; one added before is completed."""
    client.post("/setup/stations", data=GOOD["stations"])
    again = {"code": "arm-1", "name": "Tapping arm 1", "kind": "electric arm", "rpm_min": "25", "rpm_max": "500"}
    assert 303 == client.post("/setup/stations", data=again | {"torque_nm": "55"}).status_code
    with shop.work.read() as session:
        torques = {row.code: row.torque_nm for row in session.scalars(select(Station))}
        press = session.scalars(select(Station).where(Station.code == "press")).one()
        assert {IsoGroup.P: "1/2-13", IsoGroup.N: "M20"} == press.largest_threads()
    assert {"arm-1": 55, "air-1": None, "press": 40.5} == torques


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("3/8-17", "3/8-16 UNC or 3/8-24 UNF"),
        ("half inch", "1/2-13 UNC or 1/2-20 UNF"),
        ("M8x9", "M8, M8x1 or M8x0.75"),
    ],
)
def test_a_wrong_thread_is_answered_with_the_nearest(client: FlaskClient, typed: str, offered: str) -> None:
    """At the field, with what was typed still in it."""
    page = client.post("/setup/jobs", data=GOOD["jobs"] | {"thread": typed}).text
    assert offered in page
    assert f'value="{typed}"' in page


def test_a_special_thread_is_taken_where_it_is_called_so(shop: Shop, client: FlaskClient) -> None:
    """No table has it, but a shop may cut it."""
    assert 303 == client.post("/setup/jobs", data=GOOD["jobs"] | {"thread": "3/8-17 special"}).status_code


def test_a_field_for_a_thread_offers_the_standard_ones(client: FlaskClient) -> None:
    """Also without a script: one list for all the fields of a page, with the address that a script asks."""
    for address, fields in (("/setup/jobs", 1), ("/setup/stations", 6), ("/crib/types/new", 1)):
        page = client.get(address).text
        assert (fields, 1) == (page.count('list="threads"'), page.count('<datalist id="threads"'))
        assert all(f'<option value="{thread}">' in page for thread in ("3/8-16 UNC", "M8x1", "G 1/4", "1/8-27 NPT"))
        assert 'data-address="/sync/threads"' in page


@pytest.mark.parametrize(
    ("kind", "field", "value", "told"),
    [
        ("people", "code", "ADA", "is taken"),
        ("people", "name", "", "it is missing"),
        ("people", "role", "king", "is not known"),
        ("stations", "rpm_max", "10", "below the lowest speed"),
        ("stations", "rpm_min", "1,5", "digits only"),
        ("materials", "iso_group", "Z", "use one of: P, M, K"),
        ("materials", "hardness_hb", "9000", "out of range"),
        ("jobs", "thread", "3/8", "not a thread designation"),
        ("jobs", "drilled_mm", "9.6", "leaves no metal for 3/8-16"),
        ("jobs", "is_reamed", "perhaps", "is not known"),
        ("stations", "torque_nm", "0", "out of range"),
        ("stations", "largest_p", "M65", "the nearest are M64, M60 or M56"),
        ("jobs", "material", "wood", "not a material of this shop"),
        ("jobs", "depth_mm", "12;5", "use digits, with one decimal mark, such as 12.5"),
        ("jobs", "due_on", "31/03/2026", "not a date"),
        ("jobs", "hole", "square", "use blind or through"),
        ("jobs", "holes_per_part", "0", "out of range"),
    ],
)
def test_bad_input_is_named_and_kept(
    shop: Shop, client: FlaskClient, kind: str, field: str, value: str, told: str
) -> None:
    """The field and the remedy are named, what was typed stays, nothing is stored."""
    before = shop.count(TABLES[kind])
    answer = client.post(f"/setup/{kind}", data=GOOD[kind] | {field: value})
    assert (400, before) == (answer.status_code, shop.count(TABLES[kind]))
    assert told in answer.text
    assert "<title>Error:" in answer.text
    kept = GOOD[kind]["name" if field == "code" else "code"]
    assert f'value="{kept}"' in answer.text


@pytest.mark.parametrize(
    ("region", "typed", "told"),
    [("ES", "1.000", "escriba 1 o 1000"), ("MX", "1,000", "escriba 1 o 1000"), ("ES", "1,000", 1), ("MX", "1.000", 1)],
)
def test_a_mark_that_could_part_thousands_is_asked_back(shop: Shop, region: str, typed: str, told: str | int) -> None:
    """By the shop's country: in Spain 1.000 is a thousand, in Mexico 1,000; the other mark is one of decimals."""
    app = create_app(replace(shop.work, settings=replace(shop.work.settings, language="es", region=region)))
    app.config["WTF_CSRF_ENABLED"] = False
    answer = app.test_client().post("/setup/jobs", data=GOOD["jobs"] | {"depth_mm": typed, "units": "metric"})
    with shop.work.read() as session:
        depth = session.scalar(select(Job.depth_mm).where(Job.code == GOOD["jobs"]["code"]))
    assert (
        (303, told) == (answer.status_code, depth) if isinstance(told, int) else told in answer.text and depth is None
    )


def test_a_shop_in_inches_types_and_reads_inches(shop: Shop) -> None:
    """The form names the unit of a torque; what was typed is told back in both units."""
    app = create_app(replace(shop.work, settings=replace(shop.work.settings, units="inch")))
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    assert "Torque (ft-lb)" in client.get("/setup/stations").text
    assert 303 == client.post("/setup/stations", data=GOOD["stations"] | {"torque_nm": "30"}).status_code
    assert "30.0\u00a0ft-lb (40.7\u00a0N\u00a0m)" in client.get("/setup/stations").text
    given = {"depth_mm": "0.5", "drilled_mm": "7.9 mm", "units": ""}
    assert 303 == client.post("/setup/jobs", data=GOOD["jobs"] | given).status_code
    page = client.get("/setup/jobs").text
    assert "0.500\u00a0in (12.7\u00a0mm) deep, drilled 0.311\u00a0in (7.9\u00a0mm)" in page


def test_a_finished_job_is_closed_and_may_open_again(shop: Shop, client: FlaskClient) -> None:
    """Closing touches no run; an unknown job is refused in words."""
    for is_open in ("no", "yes"):
        assert 303 == client.post("/setup/jobs/J-1/open", data={"is_open": is_open}).status_code
        with shop.work.read() as session:
            assert (is_open == "yes") == session.scalar(select(Job.is_open).where(Job.code == "J-1"))
    assert "not a job of this shop" in client.post("/setup/jobs/J-99/open", data={"is_open": "no"}).text


def test_there_is_no_other_kind(client: FlaskClient) -> None:
    """An invented address is not found."""
    assert 404 == client.get("/setup/spaceships").status_code


def test_the_first_page_says_the_order(client: FlaskClient) -> None:
    """A job needs its material, a batch all of them; tap types are the crib's and not forgotten."""
    page = client.get("/setup/").text
    titles = re.findall(r"<h2><a href=\"[^\"]+\">(\d)\. ([^<]+)</a>", page)
    assert [("1", "People"), ("2", "Stations"), ("3", "Materials"), ("4", "Tap types"), ("5", "Jobs")] == titles
    assert 'href="/crib/types/new"' in page


@pytest.mark.parametrize(("kind", "field"), [("people", "role"), ("stations", "kind"), ("jobs", "hole")])
def test_nothing_is_taken_for_granted(shop: Shop, client: FlaskClient, kind: str, field: str) -> None:
    """What was not chosen is asked for: the first of a list is no answer."""
    assert '<option value="">Choose ...</option>' in client.get(f"/setup/{kind}").text.replace(" selected", "")
    before = shop.count(TABLES[kind])
    answer = client.post(f"/setup/{kind}", data=GOOD[kind] | {field: ""})
    assert (400, before) == (answer.status_code, shop.count(TABLES[kind]))
    assert f'<a href="#{field}">' in answer.text
    assert re.search(rf'<select[^>]*aria-describedby="{field}-error"[^>]*aria-invalid="true"', answer.text)
    assert re.search(r'role="alert" tabindex="-1" autofocus data-focus', answer.text)


def test_the_shop_chooses_what_it_counts_a_life_in(client: FlaskClient) -> None:
    """Holes at first; after the choice the page shows it, and a word that is none is refused by name."""
    assert re.search(r'<input checked[^>]*value="holes"', client.get("/setup/").text)
    assert 303 == client.post("/setup/life-measure", data={"measure": "thread length"}).status_code
    assert re.search(r'<input checked[^>]*value="thread length"', client.get("/setup/").text)
    refused = client.post("/setup/life-measure", data={"measure": "turns"})
    assert 400 == refused.status_code
    assert "Not saved yet: 1 thing to correct" in refused.text
