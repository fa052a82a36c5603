"""What no request may bring: it is answered in words, everywhere alike."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import StockMovement
from tests.conftest import BOTH
from tests.factories import Clock
from tests.web.conftest import MORNING, Shop, furnish
from tests.web.gate import Gate, close

FUTURE = "ffffffff-ffff-7fff-bfff-ffffffffffff"
NO_ADDRESSES = ("http://[", "https://[::1", "//[")


@pytest.fixture
def gate(shop: Shop, client: FlaskClient) -> Gate:
    """The shop with PINs in use."""
    return close(shop, client)


@pytest.fixture(params=BOTH)
def any_client(request: pytest.FixtureRequest, tmp_path: Any) -> Iterator[FlaskClient]:
    """A client of the small shop, on either database."""
    url, clock = request.getfixturevalue(f"{request.param}_url"), Clock(MORNING)
    shop = Shop(Work.on(Settings(database=url, data_folder=tmp_path / "instance"), clock), clock)
    furnish(shop)
    app = create_app(shop.work)
    app.config.update(WTF_CSRF_ENABLED=False)
    yield app.test_client()
    shop.work.close()


def fields(answer: TestResponse) -> list[str]:
    """The fields of which an answer in JSON complains."""
    return [problem["field"] for problem in (answer.json or {})["problems"]]


@pytest.mark.parametrize("address", NO_ADDRESSES)
def test_what_says_that_it_comes_from_no_address_is_refused(client: FlaskClient, address: str) -> None:
    """At the addresses for programs, and at every form over https, where the page that it stands on is looked at."""
    for header in ("Origin", "Referer"):
        answer = client.post("/sync/runs", json={}, headers={header: address})
        assert (400, True) == (answer.status_code, "error" in (answer.json or {}))
    client.application.config.update(WTF_CSRF_ENABLED=True)
    form = client.post("/setup/people", data={}, headers={"Referer": address}, base_url="https://localhost")
    assert 400 == form.status_code


@pytest.mark.parametrize("way", NO_ADDRESSES)
def test_nobody_is_sent_on_to_no_address(gate: Gate, way: str) -> None:
    """The start page is the way on then."""
    for page in ("who", "who/pin", "who/password"):
        assert gate.enrolled().get(f"/operator/{page}", query_string={"next": way}).status_code in (200, 303)


def test_a_tap_from_the_box_may_have_an_id_of_any_time(client: FlaskClient, shop: Shop) -> None:
    """An id of a time that no calendar has is an id."""
    before = shop.count(StockMovement)
    tap = {"id": FUTURE, "tap": "N1", "tap_type": "M8 spiral point", "station": "arm-1", "person": "ada"}
    assert 200 == client.post("/sync/taps", json=tap).status_code
    assert 1 == shop.count(StockMovement) - before


@pytest.mark.parametrize("name", ["person", "secret"])
@pytest.mark.parametrize("value", ["\ud800", "a\0b"])
def test_a_pin_with_what_is_no_text_is_a_problem_of_its_field(gate: Gate, name: str, value: str) -> None:
    """Half of a character, or a NUL."""
    answer = gate.enrolled().post("/sync/pin", json={"person": "ada", "secret": "271828", name: value})
    assert (400, [name]) == (answer.status_code, fields(answer))


@pytest.mark.parametrize("number", ["1e22", "12345", "2147483648", "10000000000000000000000", "-1"])
@pytest.mark.parametrize("action", ["revoke", "release"])
def test_a_tablet_that_is_none_is_not_found(gate: Gate, number: str, action: str) -> None:
    """Larger than any id, or one that nobody has: nothing is written."""
    assert gate.as_("sue").post(f"/setup/access/tablets/{number}/{action}").status_code in (400, 404)


@pytest.mark.parametrize("character", ["%00", "%1B", "%7F"])
def test_an_address_that_nothing_can_have_is_not_found(any_client: FlaskClient, character: str) -> None:
    """In the path or behind it, at pages and at the addresses for programs, on either database."""
    for address in (
        f"/operator/{character}/", f"/sync/lists/{character}", f"/sync/advice/{character}", f"/crib/taps/{character}",
        f"/setup/jobs/{character}/card", f"/crib/stock/{character}", f"/quality/life?material={character}",
        f"/operator/arm-1/card?job={character}", f"/crib/?station={character}",
    ):  # fmt: skip
        assert 404 == any_client.get(address).status_code, address
    assert 404 == any_client.post(f"/setup/jobs/{character}/open", data={}).status_code


@pytest.mark.parametrize("code", ["a\0b", "\x1b"])
def test_a_form_that_names_what_nothing_can_be_called_is_refused(any_client: FlaskClient, code: str) -> None:
    """As one that names what is not there, on either database."""
    for address, form in {
        "/operator/who/password": {"person": code, "secret": "x"},
        "/operator/who/pin": {"person": code, "secret": code},
        "/setup/access/release": {"person": code},
        "/operator/arm-1/person": {"person": code},
        "/operator/arm-1/job": {"job": code},
        "/operator/arm-1/next-tap": {"tap": code, "tap_type": code},
        "/operator/scan": {"station": code, "code": code},
        "/operator/arm-1/": {"person": code, "tap": code, "job": code, "id": str(uuid.uuid4())},
        "/crib/receive": {"person": code, "tap_type": code},
        "/setup/materials": {"name": code, "code": code, "iso_group": code},
    }.items():
        assert any_client.post(address, data=form).status_code in (303, 400), address
