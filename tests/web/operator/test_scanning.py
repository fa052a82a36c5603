"""Labels at the station: what was scanned is opened, chosen or fitted; what was misread is told."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from shopfloor.core.input.labels import Label, Labelled
from shopfloor.store import StockMovement
from tests.web.conftest import Shop

TAP = Label(Labelled.TAP, "T0002")
JOB = Label(Labelled.JOB, "J-2")


@pytest.fixture
def at_arm(client: FlaskClient) -> FlaskClient:
    """Ada works on J-1 at arm 1."""
    client.post("/operator/arm-1/person", data={"person": "ada"})
    client.post("/operator/arm-1/job", data={"job": "J-1"})
    return client


def scan(client: FlaskClient, code: str, station: str = "arm-1", **fields: str) -> tuple[int, str, str]:
    """Status, where it leads and the page, after a scan at the station."""
    answer = client.post("/operator/scan", data={"code": code, "station": station, **fields})
    return answer.status_code, answer.headers.get("Location", ""), answer.text


def test_a_scanned_station_is_opened(client: FlaskClient) -> None:
    """From wherever one is."""
    assert (303, "/operator/air-1/") == scan(client, Label(Labelled.STATION, "air-1").scanned, "")[:2]


def test_a_scanned_job_is_chosen(at_arm: FlaskClient) -> None:
    """With the sign of a scan or without."""
    assert (303, "/operator/arm-1/") == scan(at_arm, f"${JOB.scanned}")[:2]
    assert "pump cover" in at_arm.get("/operator/arm-1/").text


def test_a_scanned_tap_is_fitted(at_arm: FlaskClient) -> None:
    """It is the tap in the station from now on."""
    assert (303, "/operator/arm-1/") == scan(at_arm, TAP.printed)[:2]
    assert '<span class="tap-code">T0002</span>' in at_arm.get("/operator/arm-1/").text


def test_the_tap_that_is_in_the_station_is_not_fitted_again(at_arm: FlaskClient, shop: Shop) -> None:
    """To scan it again books nothing."""
    before = shop.count(StockMovement)
    assert 303 == scan(at_arm, Label(Labelled.TAP, "T0001").scanned)[0]
    assert before == shop.count(StockMovement)


def test_a_tap_of_another_thread_is_refused(at_arm: FlaskClient) -> None:
    """The message says what it cuts and what is wanted."""
    status, _, page = scan(at_arm, Label(Labelled.TAP, "T0003").scanned)
    assert 400 == status
    assert "T0003 cuts M6; fit a tap for M8" in page


def test_a_closed_job_is_refused(at_arm: FlaskClient) -> None:
    """Its label still hangs on the shelf."""
    status, _, page = scan(at_arm, Label(Labelled.JOB, "J-3").scanned)
    assert 400 == status
    assert "job J-3 is closed" in page


def test_without_a_station_the_station_comes_first(client: FlaskClient) -> None:
    """A tap alone says not where it goes."""
    status, _, page = scan(client, TAP.scanned, "")
    assert 400 == status
    assert "scan the station&#39;s label first" in page


def test_who_and_which_job_come_before_the_tap(client: FlaskClient, shop: Shop) -> None:
    """The station's page asks for them; nothing is booked in nobody's name."""
    before = shop.count(StockMovement)
    assert (303, "/operator/arm-1/") == scan(client, TAP.scanned)[:2]
    assert before == shop.count(StockMovement)


def test_a_slip_of_the_finger_is_told_and_what_was_meant_is_one_touch_away(at_arm: FlaskClient, shop: Shop) -> None:
    """Two characters the other way round: the text that was read, the label that was meant, nothing booked."""
    before = shop.count(StockMovement)
    status, _, page = scan(at_arm, "TT002001")
    assert 400 == status
    assert before == shop.count(StockMovement)
    assert "check digits do not match" in page
    slip = TAP.scanned[:4] + TAP.scanned[5] + TAP.scanned[4] + TAP.scanned[6:]
    page = scan(at_arm, slip)[2]
    assert f"its label says {TAP.printed}" in page
    fields = dict(re.findall(r'name="(kind|meant)" value="([^"]+)"', page))
    assert {"kind": "T", "meant": "T0002"} == fields
    assert 303 == scan(at_arm, "", **fields)[0]
    assert '<span class="tap-code">T0002</span>' in at_arm.get("/operator/arm-1/").text


@pytest.mark.parametrize("fields", [{"kind": "T", "meant": "T9"}, {"kind": "X", "meant": "T0002"}, {"kind": "J"}])
def test_a_forged_choice_is_refused(at_arm: FlaskClient, fields: dict[str, str]) -> None:
    """What is not on record cannot be meant."""
    assert 400 == scan(at_arm, "", **fields)[0]


@pytest.mark.parametrize("code", ["", "\0", "'; DROP TABLE tap", "ü" * 500])
def test_any_text_is_answered(at_arm: FlaskClient, code: str) -> None:
    """Whatever stands on a label from elsewhere."""
    assert 400 == scan(at_arm, code)[0]


def test_the_field_for_taps_takes_a_label(at_arm: FlaskClient) -> None:
    """On the page that asks which tap goes in."""
    assert 303 == at_arm.post("/operator/arm-1/next-tap", data={"tap": f"${TAP.scanned}"}).status_code
    assert '<span class="tap-code">T0002</span>' in at_arm.get("/operator/arm-1/").text


def test_the_camera_is_for_our_own_pages(client: FlaskClient) -> None:
    """Only these may ask for it, and for nothing else of the tablet."""
    policy = client.get("/operator/").headers["Permissions-Policy"]
    assert "camera=(self), microphone=(), geolocation=()" == policy


def test_the_lists_know_the_stations(client: FlaskClient) -> None:
    """So that a station's label is known without network."""
    assert {"code": "air-1", "name": "Air arm"} in client.get("/sync/lists/arm-1").json["stations"]  # type: ignore[index]
