"""Who may use which page: every route is in the table, and the table is what happens."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.routing import Rule

from shopfloor.core.vocabulary import Role
from shopfloor.web.security.roles import NEEDS, Needs
from tests.web.conftest import Shop
from tests.web.gate import CAST, Gate, close

LEADS = {Role.CRIB, Role.QUALITY, Role.ADMIN}
MAY = {
    Needs.NOTHING: set(CAST),
    Needs.TABLET: set(CAST),
    Needs.LOGGED_IN: set(CAST),
    Needs.LEAD: {"ben", "gil", "sue"},
    Needs.CRIB: {"ben", "sue"},
    Needs.QUALITY: {"gil", "sue"},
    Needs.SUPERVISOR: {"sue"},
    Needs.FIRST_SUPERVISOR: {"sue"},
}
ASKS_BY_ITSELF = {"sync.give_pin", "access.enrol"}
"""Means nothing without an enrolled tablet, or without a supervisor."""

ENDS_THE_LOG_IN = {"sync.lock", "who.lock", "access.revoke"}


@pytest.fixture
def gate(shop: Shop, client: FlaskClient) -> Gate:
    """The shop with PINs in use."""
    return close(shop, client)


def rules(client: FlaskClient) -> list[tuple[Rule, str]]:
    """Every route with the method that it is for."""
    found = []
    for rule in client.application.url_map.iter_rules():
        found += [(rule, method) for method in sorted((rule.methods or set()) & {"GET", "POST"})]
    return found


def ask(client: FlaskClient, rule: Rule, method: str) -> int:
    """The status of a request that the route may refuse for many reasons; 303 to the lock screen counts as 401."""
    values: dict[str, Any] = {
        "station": "arm-1",
        "code": "T0001",
        "kind": "people",
        "version": "0",
        "name": "x",
        "number": 1,
    }
    values |= dict.fromkeys(("run", "check", "movement", "photograph"), str(uuid.UUID(int=7)))
    with client.application.test_request_context():
        address = client.application.url_for(rule.endpoint, **{name: values[name] for name in rule.arguments})
    answer = client.open(address, method=method, json={} if address.startswith("/sync/") and method == "POST" else None)
    is_sent_away = answer.status_code == 303 and "/operator/who" in answer.headers["Location"]
    is_who = rule.endpoint.startswith("who.") or rule.endpoint in ("operator.person", "operator.choose_person")
    return 401 if is_sent_away and not is_who else answer.status_code


def test_every_route_is_in_the_table(client: FlaskClient) -> None:
    """A new page has to say who may use it; what is gone is not listed any more."""
    assert set(NEEDS) == {rule.endpoint for rule, _ in rules(client)}


def test_a_page_that_is_not_listed_is_a_supervisors(gate: Gate) -> None:
    """Whoever forgets the table opens nothing."""
    needs = NEEDS.pop("front.changes")
    try:
        assert [403, 200] == [gate.as_(person).get("/new").status_code for person in ("ada", "sue")]
    finally:
        NEEDS["front.changes"] = needs


def test_nobody_gets_past_without_a_log_in(gate: Gate) -> None:
    """From any device: only the lock screen and what holds nothing of the shop."""
    client = gate.stranger()
    for rule, method in rules(client):
        is_open = NEEDS[rule.endpoint] is Needs.NOTHING
        assert is_open == (ask(client, rule, method) != 401), rule.endpoint


def test_an_enrolled_tablet_alone_keeps_lists_and_sends(gate: Gate) -> None:
    """It gets the lists for the time without network; each run is asked about by itself."""
    client = gate.enrolled()
    for rule, method in rules(client):
        if NEEDS[rule.endpoint] in (Needs.NOTHING, Needs.TABLET):
            continue
        assert 401 == ask(client, rule, method), rule.endpoint
    assert 200 == client.get("/sync/lists/arm-1").status_code


@pytest.mark.parametrize("person", CAST)
def test_everybody_may_do_what_their_role_says(gate: Gate, person: str) -> None:
    """Walks every route: refused with 403 where the table says so, and nowhere else."""
    client = gate.as_(person)
    for rule, method in rules(client):
        if rule.endpoint in ENDS_THE_LOG_IN:
            continue
        status = ask(client, rule, method)
        assert (person in MAY[NEEDS[rule.endpoint]]) == (status not in (401, 403)), (rule.endpoint, status)


def test_a_refusal_says_who_may(gate: Gate) -> None:
    """In words, with a way back; without stopping the log-in."""
    answer = gate.as_("ada").post("/setup/people", data={"name": "Eve", "code": "eve", "role": "admin"})
    assert 403 == answer.status_code
    assert "this is for: supervisor" in answer.text
    assert 200 == gate.client.get("/").status_code


def test_a_pin_gives_no_role(gate: Gate) -> None:
    """Somebody who was an operator and became a lead has to get a password first."""
    from shopfloor.store import Person, PersonRole

    with gate.shop.work.write() as session:
        ada = session.query(Person).filter_by(code="ada").one()
        ada.roles.append(PersonRole(role=Role.ADMIN))
    assert 403 == gate.as_("ada").get("/setup/access/").status_code


def test_without_pins_every_page_is_everybodys(client: FlaskClient) -> None:
    """As long as there is no supervisor, also the page that makes one."""
    for rule, method in rules(client):
        assert ask(client, rule, method) not in (401, 403) or rule.endpoint in ASKS_BY_ITSELF, rule.endpoint


def test_without_pins_a_supervisor_still_guards_who_gets_in(gate: Gate) -> None:
    """Nobody puts PINs into use, or gives out passwords, but the supervisor."""
    from shopfloor.services.access.rules import use_pins

    use_pins(gate.shop.work, is_in_use=False)
    client = gate.stranger()
    assert 200 == client.get("/").status_code
    assert "/operator/who/password" in client.get("/setup/access/").headers["Location"]
    assert 401 == client.post("/setup/access/secret", data={"person": "ada"}).status_code
    assert 200 == gate.as_("sue").get("/setup/access/").status_code
