"""The lock screen: names, PIN, and back; what the cookies are; entries sent by a tablet."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from tests.factories import Clock
from tests.web.conftest import Shop
from tests.web.gate import PASSWORD, PIN, Gate, close, cookie


@pytest.fixture
def gate(shop: Shop, client: FlaskClient) -> Gate:
    """The shop with PINs in use."""
    return close(shop, client)


def run(gate: Gate, person: str, ago: timedelta = timedelta(0)) -> dict[str, object]:
    """A run as a tablet sends it."""
    return {
        "id": str(uuid.uuid4()), "when": (gate.shop.clock() - ago).isoformat(), "person": person, "station": "arm-1",
        "job": "J-1", "tap": "T0001", "rpm": 300, "holes": 48, "cutting_slips": 0, "tap_end": "still good",
    }  # fmt: skip


def test_without_pins_there_is_no_lock_screen(client: FlaskClient) -> None:
    """The demo opens as it always did, and the name is chosen as before."""
    assert 200 == client.get("/operator/arm-1/person").status_code
    assert "/operator/arm-1/" == client.get("/operator/who?next=/operator/arm-1/").headers["Location"]
    assert "data-idle-minutes" not in client.get("/").text


def test_name_pin_and_back(gate: Gate) -> None:
    """A page that asks for a log-in is come back to; the page names who is there, once touched it changes."""
    client = gate.enrolled()
    away = client.get("/operator/arm-1/").headers["Location"]
    assert "/operator/who?next=/operator/arm-1/" == away
    names = client.get(away).text
    assert [True] * 3 == [name in names for name in ("Ada K.", "Ben O.", "Sue V.")]
    asked = client.get("/operator/who/pin?person=ada&next=/operator/arm-1/").text
    assert "Ada K." in asked
    form = {"person": "ada", "secret": PIN, "next": "/operator/arm-1/"}
    answer = client.post("/operator/who/pin", data=form)
    assert (303, "/operator/arm-1/") == (answer.status_code, answer.headers["Location"])
    assert "Ada K." in client.get("/").text


def test_the_cookies_hold_nothing_but_tokens(gate: Gate) -> None:
    """Out of reach of scripts and of other sites; the session says nothing of either token."""
    form = {"person": "ada", "secret": PIN}
    headers = gate.enrolled().post("/operator/who/pin", data=form).headers.getlist("Set-Cookie")
    for name in ("shopfloor-person", "shopfloor-tablet"):
        said = cookie(headers, name)
        assert [True, True, False] == [part in said for part in ("HttpOnly", "SameSite=Lax", "Secure")]
    assert "Max-Age" not in cookie(headers, "shopfloor-person")
    gate.client.get("/operator/arm-1/")
    with gate.client.session_transaction() as session:
        assert PIN not in str(dict(session))
        assert gate.token not in str(dict(session))


def test_over_https_the_cookies_are_the_hosts_own(gate: Gate) -> None:
    """Secure, and by a name that a browser takes from nobody else."""
    form = {"person": "sue", "secret": PASSWORD}
    answer = gate.stranger().post("/operator/who/password", data=form, base_url="https://localhost")
    said = cookie(answer.headers.getlist("Set-Cookie"), "shopfloor-person")
    assert said.startswith("__Host-shopfloor-person=")
    assert "Secure" in said


@pytest.mark.parametrize(
    "way", ["https://elsewhere.test/", "//elsewhere.test/", "/\\elsewhere.test", "javascript:x", ""]
)
def test_nobody_is_sent_to_another_site(gate: Gate, way: str) -> None:
    """The way back is one of our pages."""
    answer = gate.enrolled().post("/operator/who/pin", data={"person": "ada", "secret": PIN, "next": way})
    assert "/" == answer.headers["Location"]


def test_a_wrong_pin_is_told_and_then_has_to_wait(gate: Gate) -> None:
    """The PIN is never sent back; after five the answer is 429."""
    client = gate.enrolled()
    for _ in range(5):
        answer = client.post("/operator/who/pin", data={"person": "ada", "secret": "424242"})
        assert (400, True, False) == (answer.status_code, "does not fit" in answer.text, "424242" in answer.text)
    answer = client.post("/operator/who/pin", data={"person": "ada", "secret": PIN})
    assert (429, True) == (answer.status_code, "wait 30 s" in answer.text)


def test_a_device_that_is_not_enrolled_says_how_it_becomes_one(gate: Gate) -> None:
    """It shows no name, and takes no PIN."""
    client = gate.stranger()
    told = client.get("/operator/who").text
    assert [True, False] == [text in told for text in ("This device is not enrolled", "Ada K.")]
    answer = client.post("/operator/who/pin", data={"person": "ada", "secret": PIN})
    assert "/operator/who" in answer.headers["Location"]
    answer = client.post("/operator/who/password", data={"person": "ada", "secret": PIN})
    assert (400, True) == (answer.status_code, "does not fit" in answer.text)


def test_a_supervisor_enrols_a_tablet_and_takes_it_out(gate: Gate) -> None:
    """With the password on the new tablet; a revoked one shows no names any more."""
    client = gate.stranger()
    client.post("/operator/who/password", data={"person": "sue", "secret": PASSWORD})
    client.post("/setup/access/tablets", data={"name": "Arm 2"})
    assert "Enrolled as Arm 2" in client.get("/setup/access/").text
    assert "Ada K." in client.get("/operator/who").text
    client.post("/setup/access/tablets/2/revoke")
    assert "This device is not enrolled" in client.get("/operator/who").text


def test_lock_and_idle(gate: Gate) -> None:
    """A touch on Lock, the tablet's own lock, ten minutes without a page: each ends the log-in."""
    for way in ("/operator/who/lock", "/sync/lock"):
        client = gate.as_("ada")
        client.post(way, json={}) if way.startswith("/sync") else client.post(way)
        assert 303 == client.get("/operator/").status_code, way
    client = gate.as_("ada")
    gate.shop.clock.move(minutes=9)
    assert {"logged_in": True} == client.post("/sync/here", json={}).json
    gate.shop.clock.move(minutes=9)
    assert 200 == client.get("/operator/").status_code
    gate.shop.clock.move(minutes=11)
    assert 303 == client.get("/operator/").status_code


def test_looks_of_a_script_are_no_touch(gate: Gate) -> None:
    """The tablet asks for the time every ten seconds, whoever is there."""
    client = gate.as_("ada")
    for _ in range(11):
        gate.shop.clock.move(minutes=1)
        client.get("/sync/clock")
        client.get("/sync/lists/arm-1")
    assert 303 == client.get("/operator/").status_code


def test_ones_own_entries_only_are_undone(gate: Gate) -> None:
    """Ben sees no button at Ada's, and is refused without one; Ada undoes it at any tablet."""
    made = gate.shop.log()
    client = gate.as_("ben")
    assert ">Undo<" not in client.get("/operator/arm-1/entries").text
    assert 409 == client.post(f"/operator/arm-1/entries/{made}/undo").status_code
    client = gate.as_("ada")
    shown = client.get("/operator/arm-1/entries").text
    assert [True, False] == [text in shown for text in (">Undo<", ">Correct<")]
    assert 303 == client.post(f"/operator/arm-1/entries/{made}/undo").status_code


def test_nobody_signs_for_somebody_else(gate: Gate) -> None:
    """Whatever a form says of who books it, it is whoever is logged in."""
    data = {"gauge-id": str(uuid.uuid4()), "gauge-result": "passed", "gauge-person": "ada"}
    assert 303 == gate.as_("gil").post("/crib/gauge/T0001", data=data).status_code
    assert "Gil S." in gate.client.get("/crib/taps/T0001").text


def test_a_run_is_stored_for_whoever_is_logged_in(gate: Gate) -> None:
    """For somebody else only with that one's PIN: 401 in our words, and nothing is stored."""
    client = gate.as_("ada")
    assert 201 == client.post("/sync/runs", json=run(gate, "ada")).status_code
    answer = client.post("/sync/runs", json=run(gate, "ben"))
    assert (401, []) == (answer.status_code, (answer.json or {})["problems"])
    assert 1 == len(gate.shop.runs())


def test_a_log_in_that_ended_meanwhile(gate: Gate) -> None:
    """What was made before its end is stored; what was made later waits for the PIN, and is stored once after it."""
    client = gate.as_("ada")
    gate.shop.clock.move(minutes=30)
    late = run(gate, "ada", timedelta(minutes=5))
    answers = [
        client.post("/sync/runs", json=sent).status_code for sent in (run(gate, "ada", timedelta(minutes=25)), late)
    ]
    assert [201, 401] == answers
    wrong = client.post("/sync/pin", json={"person": "ada", "secret": "424242"})
    assert (400, "it does not fit") == (wrong.status_code, (wrong.json or {})["problems"][0]["what"])
    assert 200 == client.post("/sync/pin", json={"person": "ada", "secret": PIN}).status_code
    assert [201, 200] == [client.post("/sync/runs", json=late).status_code for _ in range(2)]
    assert 200 == client.get("/operator/").status_code


def test_the_tray_changes_nobody_who_is_logged_in(gate: Gate) -> None:
    """Ben gives his PIN for his entries while Ada works on."""
    client = gate.as_("ada")
    made = run(gate, "ben")
    assert 200 == client.post("/sync/pin", json={"person": "ben", "secret": PASSWORD}).status_code
    assert 201 == client.post("/sync/runs", json=made).status_code
    assert "Ada K." in client.get("/").text


def test_a_run_is_taken_back_by_whoever_made_it(gate: Gate) -> None:
    """Ben cannot take back Ada's from his tablet's list; she can, once."""
    sent = run(gate, "ada")
    assert 201 == gate.as_("ada").post("/sync/runs", json=sent).status_code
    address, client = f"/sync/runs/{sent['id']}/undo", gate.as_("ben")
    gate.shop.clock.move(minutes=3)
    assert 401 == client.post(address, json={}).status_code
    assert 200 == gate.as_("ada").post(address, json={}).status_code


def test_a_tap_from_the_box_waits_for_the_pin_too(gate: Gate) -> None:
    """It is fitted in the name of whoever took it."""
    tap = {"id": str(uuid.uuid4()), "tap": "NEW01", "tap_type": "M8 spiral point", "station": "arm-1", "person": "ada"}
    assert 401 == gate.as_("ben").post("/sync/taps", json=tap).status_code
    assert 200 == gate.as_("ada").post("/sync/taps", json=tap).status_code


def test_whoever_has_a_password_logs_out_on_any_computer(gate: Gate) -> None:
    """The name in the header leads to it."""
    client = gate.stranger()
    client.post("/operator/who/password", data={"person": "gil", "secret": PASSWORD})
    assert "Log out" in client.get("/operator/who").text
    client.post("/operator/who/lock")
    assert 303 == client.get("/quality/").status_code


def test_a_supervisor_vouches_for_all(gate: Gate) -> None:
    """Somebody went home, and the entries are on the tablet."""
    assert 201 == gate.as_("sue").post("/sync/runs", json=run(gate, "ada")).status_code


def test_no_pin_is_taken_where_no_tablet_is_enrolled(gate: Gate) -> None:
    """A revoked tablet keeps its entries and is told so."""
    assert 401 == gate.stranger().post("/sync/pin", json={"person": "ada", "secret": PIN}).status_code


def test_a_form_that_comes_too_late_is_told_so(gate: Gate) -> None:
    """Without scripts: the words are a way back to what was typed."""
    answer = gate.enrolled().post("/operator/arm-1/", data={"holes": "48"})
    assert (401, True) == (answer.status_code, "what you typed is still there" in answer.text)


def tried(gate: Gate, secret: str, address: str, said: str = "") -> int:
    """The status of an attempt with Sue's name from a network address, with what a header says of another."""
    headers = {"X-Forwarded-For": said} if said else {}
    form, came_from = {"person": "sue", "secret": secret}, {"REMOTE_ADDR": address}
    return (
        gate.stranger()
        .post("/operator/who/password", data=form, headers=headers, environ_overrides=came_from)
        .status_code
    )


def test_waits_are_for_the_address_where_guesses_come_from(gate: Gate) -> None:
    """Another one gets in; what the guesser says of where it comes from is not believed; of IPv6 the network counts."""
    assert [400] * 5 + [429] * 3 == [tried(gate, "not this one", "10.0.0.66", f"10.0.1.{n}") for n in range(8)]
    assert [303, 429] == [tried(gate, PASSWORD, address) for address in ("10.0.0.7", "10.0.0.66")]
    assert [400] * 5 + [429] == [tried(gate, "not this one", f"2001:db8::{n}") for n in range(6)]
    shown = gate.as_("sue").get("/setup/access/").text
    assert [True, True] == [place in shown for place in ("10.0.0.66", "2001:db8::/64")]


def test_only_the_shops_own_proxy_tells_where_somebody_comes_from(shop: Shop, clock: Clock) -> None:
    """The last address that it adds is what it saw; those before are anybody's word."""
    behind = Work(shop.work.engine, replace(shop.work.settings, proxy="127.0.0.1"), clock)
    app = create_app(behind)
    app.config.update(WTF_CSRF_ENABLED=False)
    gate = close(shop, app.test_client())
    assert [400] * 5 == [tried(gate, "not this one", "127.0.0.1", f"10.0.1.{n}, 10.0.0.66") for n in range(5)]
    assert [429, 303] == [tried(gate, PASSWORD, "127.0.0.1", said) for said in ("10.0.0.7, 10.0.0.66", "10.0.0.7")]
