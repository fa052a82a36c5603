"""The set-up card's page."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import update

from shopfloor.core.vocabulary import HoleMaking
from shopfloor.store import Job, Station
from tests.web.conftest import Shop
from tests.web.markup import words
from tests.web.operator.station_form import STATION

CARD = f"{STATION}card"


@pytest.fixture
def at_work(client: FlaskClient) -> FlaskClient:
    """A tablet at arm-1, used by Ada for J-1: M8 through structural steel, 10 mm, T0001 in the station."""
    client.post(f"{STATION}person", data={"person": "ada"})
    client.post(f"{STATION}job", data={"job": "J-1"})
    return client


def change(shop: Shop, table: type[Any], code: str, **values: Any) -> None:
    """Put other values on record."""
    with shop.work.write() as session:
        session.execute(update(table).where(table.code == code).values(**values))


def test_the_station_page_leads_to_the_card(at_work: FlaskClient) -> None:
    """One touch; and back."""
    assert f'href="{CARD}"' in at_work.get(STATION).text
    assert f'href="{STATION}"' in at_work.get(CARD).text


def test_everything_that_keeps_the_tap_alive_is_on_it(at_work: FlaskClient) -> None:
    """Thread, tap and its holes, drill with percentage, chamfer, depth, speed, time, lubricant, clutch, station."""
    page = words(at_work.get(CARD))
    for told in (
        "Set-up card: M8 in Structural steel", "Speed 300 rpm", "Depth 10 mm", "Tap drill 6.8 mm", "74 %",
        "Suitable tap style Spiral point", "T0001, 0 holes so far", "spiral point, plug chamfer, HSS",
        "Chamfer the mouth to 8.31 mm (0.327 in)", "Surface speed 7.5 m/min (25 ft/min)",
        "Published start range 606 to 728 rpm (15 to 18 m/min)", "Proven in this shop Not yet", "Nothing logged yet",
        "Time per hole 1.6 s in, 3.2 s in and out", "Lubricant Sulphurised", "Clutch between", "the tap shears at",
        "Station Its torque is not on record", "Guide values.", "Wear eye protection", "Bench flat, work clamped",
    ):  # fmt: skip
        assert told in page, told


def test_the_drawing_has_its_table(at_work: FlaskClient) -> None:
    """Each letter in the drawing is a row beside it."""
    page = at_work.get(CARD).text
    letters = re.findall(r'<text class="hole-letter"[^>]*>([A-G])<', page)
    assert ["A", "B", "E", "F", "G"] == letters
    assert letters == re.findall(r'<th scope="row">([A-G])</th>', page)
    assert re.search(r'<svg class="hole"[^>]*role="img" aria-label="[^"]+"', page)


def test_warnings_stand_in_order_of_weight_with_what_to_do(shop: Shop, at_work: FlaskClient) -> None:
    """The heaviest first, each with its reason and its remedy."""
    hole = {"is_blind": True, "drill_depth_mm": 12, "hole_making": HoleMaking.PLASMA, "is_reamed": False}
    change(shop, Job, "J-1", is_chamfered=False, **hole)
    change(shop, Station, "arm-1", torque_nm=6)
    page = at_work.get(CARD)
    weights = re.findall(r'class="state state-(\w+) wrap">([^<]+)<', page.text)
    told = [what for _, what in weights]
    assert "Hole too shallow" == told[0]
    assert "Bench flat, work clamped, head square to it" == told[-1]
    assert {"Hole is plasma cut and not reamed", "Tap cannot clear its chips from a blind hole"} < set(told)
    order = [("bad", "warn", "none").index(tone) for tone, _ in weights]
    assert sorted(order) == order
    assert len(told) == words(page).count(" Do: ")


def test_the_shops_own_speeds_go_first_with_their_evidence(shop: Shop, at_work: FlaskClient) -> None:
    """As soon as the log has enough; the band's holes and failures stand in a table."""
    for _ in range(3):
        shop.log(holes=400)
    page = words(at_work.get(CARD))
    assert "Proven in this shop 251 to 398 rpm (6.3 to 10 m/min)" in page
    assert "6.3-10 m/min, proven 1,200 0 (0)" in page
    assert "Published start range" not in page


def test_a_station_with_torque_tells_its_margin(shop: Shop, at_work: FlaskClient) -> None:
    """And the largest thread that it taps here."""
    change(shop, Station, "arm-1", torque_nm=55, largest_p="5/8-11")
    page = words(at_work.get(CARD))
    assert "times what a dull tap needs 55 N m at the tap; largest thread here 15.9 mm (M14)" in page


def test_another_job_can_be_asked_for(at_work: FlaskClient) -> None:
    """From the list of jobs, at whatever station; no tap of its thread is there."""
    page = words(at_work.get(f"{CARD}?job=J-2"))
    assert "Set-up card: M6 in Stainless steel" in page
    assert "Tap in the station None for this job T0001 there cuts M8; figures are for the suitable style" in page


def test_what_is_lacking_is_told_and_the_cautions_stay(shop: Shop, at_work: FlaskClient) -> None:
    """No card and no guess; the way to complete the job."""
    change(shop, Job, "J-1", depth_mm=None)
    page = at_work.get(CARD)
    assert 200 == page.status_code
    assert "There is no card for this job yet." in words(page)
    assert "Depth: it is not on record; complete the job: depth of thread." in words(page)
    assert "Wear eye protection" in words(page)
    assert 'href="/setup/jobs"' in page.text


def test_a_job_must_be_chosen_first(client: FlaskClient) -> None:
    """The question comes up, as on the station page."""
    assert f"{STATION}job" == client.get(CARD).location


@pytest.mark.parametrize("address", ["/operator/nowhere/card?job=J-1", f"{CARD}?job=J-99", f"{CARD}?job=J-3"])
def test_unknown_stations_and_jobs_and_closed_ones(client: FlaskClient, address: str) -> None:
    """Not found."""
    assert 404 == client.get(address).status_code


def test_the_list_of_jobs_leads_to_the_card_at_each_station(client: FlaskClient) -> None:
    """Open jobs alone; then the station is asked."""
    assert ["/setup/jobs/J-1/card", "/setup/jobs/J-2/card", "/setup/jobs/J-4/card"] == re.findall(
        r'href="(/setup/jobs/[^"]+/card)"', client.get("/setup/jobs").text
    )
    page = client.get("/setup/jobs/J-1/card").text
    assert re.findall(r'href="(/operator/[^"]+)"', page)[-2:] == [f"{CARD}?job=J-1", "/operator/air-1/card?job=J-1"]


@pytest.mark.parametrize("thread", ["#0-80", "M1", "M64", "4-4 UNC", "G 1/4", "G 6", "1/8-27 NPT", "M8x1.1 special"])
@pytest.mark.parametrize("is_blind", [True, False])
def test_every_thread_has_a_page(shop: Shop, at_work: FlaskClient, thread: str, is_blind: bool) -> None:
    """A card, or what is lacking in words: never a failure."""
    change(shop, Job, "J-1", thread=thread, is_blind=is_blind, depth_mm=3)
    page = at_work.get(CARD)
    assert 200 == page.status_code
    assert ('<svg class="hole"' in page.text) != ("There is no card for this job yet." in page.text)
