"""Set up who gets in: the first supervisor, rules, secrets, waits."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from tests.web.conftest import Shop
from tests.web.gate import PASSWORD, PIN, Gate, close

PAGE = "/setup/access/"


@pytest.fixture
def gate(shop: Shop, client: FlaskClient) -> Gate:
    """The shop with PINs in use."""
    return close(shop, client)


def secret(person: str, value: str) -> dict[str, str]:
    """The form that gives somebody a PIN or a password."""
    return {"secret-person": person, "secret-secret": value, "secret-again": value}


def test_from_nothing_to_pins(client: FlaskClient) -> None:
    """First supervisor, this tablet, a PIN, PINs in use: then a name and the PIN are asked for."""
    assert "make the first supervisor" in client.get(PAGE).text
    client.post(f"{PAGE}first", data=secret("ben", PASSWORD))
    client.post(f"{PAGE}tablets", data={"name": "Arm 1"})
    client.post(f"{PAGE}secret", data=secret("ada", PIN))
    rules = {"is_in_use": "yes", "idle_minutes": "10", "shift_hours": "10", "shortest_pin": "6"}
    client.post(f"{PAGE}rules", data=rules)
    assert "PINs are in use" in client.get(PAGE).text
    client.post("/operator/who/lock")
    assert "/operator/who" in client.get("/operator/arm-1/").headers["Location"]
    assert "/" == client.post("/operator/who/pin", data={"person": "ada", "secret": PIN}).headers["Location"]


def test_pins_are_not_used_before_there_is_a_supervisor(client: FlaskClient) -> None:
    """Nobody could enrol a tablet then."""
    rules = {"is_in_use": "yes", "idle_minutes": "10", "shift_hours": "10", "shortest_pin": "6"}
    answer = client.post(f"{PAGE}rules", data=rules)
    assert 400 == answer.status_code
    assert 200 == client.get("/operator/").status_code


def test_a_secret_that_is_refused_stays_unsaid(gate: Gate) -> None:
    """What is wrong stands beside the field; the PIN is not sent back."""
    answer = gate.as_("sue").post(f"{PAGE}secret", data=secret("ada", "123456"))
    assert (400, True, False) == (answer.status_code, "neither all alike" in answer.text, "123456" in answer.text)


def test_a_supervisor_lets_somebody_try_again(gate: Gate) -> None:
    """The person and the tablet that have to wait are shown, with the way to end it."""
    for _ in range(5):
        gate.enrolled().post("/operator/who/pin", data={"person": "ada", "secret": "424242"})
    gate.shop.clock.move(seconds=1)
    client = gate.stranger()
    client.post("/operator/who/password", data={"person": "sue", "secret": PASSWORD})
    shown = client.get(PAGE).text
    assert [True, True] == [f"Let {name} try again" in shown for name in ("Ada K.", "Arm 1")]
    client.post(f"{PAGE}release", data={"person": "ada"})
    client.post(f"{PAGE}tablets/{gate.tablet}/release")
    answer = gate.enrolled().post("/operator/who/pin", data={"person": "ada", "secret": PIN})
    assert 303 == answer.status_code


def test_attempts_are_shown(gate: Gate) -> None:
    """Who, where, when, and how it ended."""
    gate.enrolled().post("/operator/who/pin", data={"person": "ada", "secret": "424242"})
    shown = gate.as_("sue").get(PAGE).text
    assert [True, True, True] == [text in shown for text in ("Last attempts", ">Wrong<", ">Right<")]
