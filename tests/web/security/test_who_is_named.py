"""With PINs in use no row names anybody but whoever is logged in, whatever the request says of persons."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import inspect, select
from werkzeug.test import TestResponse

from shopfloor.core.vocabulary import Role
from shopfloor.services.access import tablets
from shopfloor.services.access.credentials import give_secret
from shopfloor.services.access.log_in import sign_in
from shopfloor.store import Base, Person, PersonRole
from tests.web.conftest import Shop
from tests.web.gate import PASSWORD, PIN, Gate, close
from tests.web.writing import JOB, STATION, Sent, known, sent

WRITING = {"POST", "PUT", "PATCH", "DELETE"}
SECRETS = {"ada": PIN, "eve": "314159", "ben": "nine blunt taps", "gil": "ten blunt taps", "sue": PASSWORD}
"""The operator, another one, the tool crib, the quality lead, the supervisor."""

NAMING = ("person", "recorded_by", "recorded_by_id", "by", "by_id", "operator", "approver", "who", "user")
"""Fields by which a request may try to name somebody."""

ABOUT = {"person_role", "person_secret"}
"""Tables that tell of a person what a supervisor decided; they name nobody who did anything."""

MAY_DO = {
    **dict.fromkeys(("operator.save", "operator.choose_tap", "operator.fit_found_tap", "operator.undo"), "ada"),
    **dict.fromkeys(("sync.store_run", "sync.fit_tap_from_box", "sync.take_back_run"), "ada"),
    **dict.fromkeys(("operator.take_scan", "sync.store_photograph", "sync.give_pin", "who.give_pin"), "ada"),
    **dict.fromkeys(("operator.save_correction", "operator.cancel", "crib.gauge", "crib.move", "crib.book"), "ben"),
    **dict.fromkeys(("crib.book_received", "crib.correct_check", "crib.cancel_check"), "ben"),
    **dict.fromkeys(("crib.correct_movement", "crib.cancel_movement"), "ben"),
    **dict.fromkeys(("quality.correct_incident", "quality.cancel_incident", "quality.cancel_photograph"), "gil"),
    **dict.fromkeys(("quality.tell_gauge",), "gil"),
    **dict.fromkeys(("crib.change_type",), "ben"),
    **dict.fromkeys(("setup.change_person", "setup.change_thing", "setup.rename_code"), "sue"),
    **dict.fromkeys(("access.enrol", "who.give_password"), "sue"),
}
"""Who may, for each route that names a person in a row."""

WHO_DID_IT = "ben"
"""Whose entries are changed in this walk: a changed entry goes on naming who did the work."""

Rows = dict[tuple[Any, ...], dict[str, str | None]]


@pytest.fixture
def gate(shop: Shop, client: FlaskClient) -> Gate:
    """The shop with PINs in use, a second operator, and a second tablet to be revoked."""
    shop.add(Person(code="eve", name="Eve T.", roles=[PersonRole(role=Role.OPERATOR)]))
    made = close(shop, client)
    for person in ("eve", "ben", "gil"):
        give_secret(shop.work, {"person": person, "secret": SECRETS[person], "again": SECRETS[person]})
    tablets.enrol(shop.work, "Arm 2", "sue")
    return made


def writing_routes(client: FlaskClient) -> list[str]:
    """Every endpoint that takes more than GET."""
    rules = client.application.url_map.iter_rules()
    return sorted({rule.endpoint for rule in rules if WRITING & (rule.methods or set())})


def persons_in(shop: Shop) -> Rows:
    """The persons that each row names, by its table and key."""
    found: Rows = {}
    with shop.work.read() as session:
        codes = {person.id: person.code for person in session.scalars(select(Person)).unique()}
        for table in Base.metadata.sorted_tables:
            naming = [c for c in table.columns if any(key.column.table.name == "person" for key in c.foreign_keys)]
            if table.name in ABOUT or not naming:
                continue
            keys = list(inspect(table).primary_key)
            for row in session.execute(select(*keys, *naming)):
                key, named = row[: len(keys)], row[len(keys) :]
                found[table.name, *key] = {c.name: codes.get(id_) for c, id_ in zip(naming, named, strict=True)}
    return found


def entered(shop: Shop, before: Rows) -> Rows:
    """The rows that are new or name others than before."""
    return {key: named for key, named in persons_in(shop).items() if before.get(key) != named}


ENDS_OR_CHANGES_THE_LOG_IN = {"who.lock", "sync.lock", "who.give_pin", "who.give_password", "sync.give_pin"}


def at(gate: Gate, person: str | None) -> FlaskClient:
    """The enrolled tablet with this person at it; it remembers somebody else from the time before PINs."""
    client = gate.enrolled()
    client.delete_cookie("shopfloor-person")
    if person is not None:
        client.set_cookie("shopfloor-person", sign_in(gate.shop.work, person, SECRETS[person], gate.tablet))
    with client.session_transaction() as session:
        session.update(person="sue", crib_person="sue", jobs={STATION: JOB})
    return client


def ask(client: FlaskClient, endpoint: str, what: Sent, more: dict[str, str]) -> TestResponse:
    """Send it, with more fields that name persons."""
    with client.application.test_request_context():
        address = client.application.url_for(endpoint, **what.parts)
    if what.picture is not None:
        return client.post(address, data=what.picture, content_type="image/png", query_string=more)
    if what.json is not None:
        return client.post(address, json=what.json | more, query_string=more)
    fields = {name: value for key, value in more.items() for name in (key, what.prefix + key)}
    return client.post(address, data=fields | what.form, query_string=more)


def forgeries(person: str | None) -> Iterator[tuple[str, dict[str, str]]]:
    """Somebody else's name where the request has a person, and in each field that might be read as one."""
    others = [other for other in ("sue", "eve", "ada") if other != person][:2]
    yield others[0], {}
    yield others[1], dict.fromkeys(NAMING, others[1])


def test_every_writing_route_is_walked(client: FlaskClient) -> None:
    """A new one has to bring a request here, or whoever it names is not looked at."""
    assert set(writing_routes(client)) == known()


@pytest.mark.parametrize("endpoint", sorted(MAY_DO))
def test_what_is_sent_in_ones_own_name_is_stored_so(gate: Gate, endpoint: str) -> None:
    """The walk below would tell nothing of requests that the shop refuses anyway."""
    person = MAY_DO[endpoint]
    client = at(gate, person)
    what = sent(gate.shop, endpoint, person, SECRETS[person])
    before = persons_in(gate.shop)
    assert ask(client, endpoint, what, {}).status_code in (200, 201, 303)
    named = {name for row in entered(gate.shop, before).values() for name in row.values()}
    assert person in named
    assert named <= {None, person, WHO_DID_IT}


@pytest.mark.parametrize("person", [None, *SECRETS])
def test_no_row_names_anybody_else(gate: Gate, person: str | None) -> None:
    """Every writing route, by nobody, two operators, crib, quality and supervisor, each with persons forged."""
    client = at(gate, person)
    for endpoint in writing_routes(gate.client):
        for other, more in forgeries(person):
            gate.shop.clock.move(seconds=30)
            what = sent(gate.shop, endpoint, other, SECRETS[person] if person else "424242")
            before = persons_in(gate.shop)
            status = ask(client, endpoint, what, more).status_code
            for key, named in entered(gate.shop, before).items():
                told = (endpoint, other, status, key, named)
                assert named.keys() <= {c for c in named if named[c] in allowed(endpoint, person, other, c)}, told
            if endpoint in ENDS_OR_CHANGES_THE_LOG_IN:
                client = at(gate, person)
    # All along somebody was there to be forged for.
    assert {"logged_in": person is not None} == client.post("/sync/here", json={}).json


def allowed(endpoint: str, person: str | None, other: str, column: str) -> set[str | None]:
    """Whom a column may name: whoever is logged in, who did what is changed, and whom a supervisor vouches for."""
    names: set[str | None] = {None, person}
    if person == "sue" and endpoint.startswith("sync."):
        return names | {other}
    if column == "person_id":
        names.add(WHO_DID_IT)
        if endpoint == "operator.save_correction":
            names.add(other)
    return names


def test_a_lead_puts_right_whose_work_it_was(gate: Gate) -> None:
    """The operator of an entry may have been mistaken; who says so, and why, stands beside it."""
    client = at(gate, "ben")
    what = sent(gate.shop, "operator.save_correction", "eve", PASSWORD)
    before = persons_in(gate.shop)
    assert 303 == ask(client, "operator.save_correction", what, {}).status_code
    new = {key[0]: named for key, named in entered(gate.shop, before).items()}
    assert {"person_id": "eve", "recorded_by_id": "ben"} == new["run"]


def test_a_form_that_somebody_else_began_is_nobodys_until_saved_again(gate: Gate) -> None:
    """What was typed stays; the page says whose it would be; saved again it is whoever's is logged in."""
    client = at(gate, "eve")
    what = sent(gate.shop, "operator.save", "ada", PIN)
    answer = ask(client, "operator.save", what, {})
    assert (409, 0) == (answer.status_code, len(gate.shop.runs()))
    assert [True, True] == [text in answer.text for text in ("began this form", 'value="48"')]
    assert 303 == ask(client, "operator.save", Sent(what.parts, what.form | {"person": "eve"}), {}).status_code
    assert ["Eve T."] == named_of_runs(gate.shop)


def named_of_runs(shop: Shop) -> list[str]:
    """The names of those who made the stored runs."""
    with shop.work.read() as session:
        return [session.get_one(Person, run.person_id).name for run in shop.runs()]


def test_without_pins_the_chosen_person_is_believed(shop: Shop, client: FlaskClient) -> None:
    """As it always was: the demo, and a shop that trusts its people."""
    client.post(f"/operator/{STATION}/person", data={"person": "ada"})
    assert 303 == ask(client, "operator.save", sent(shop, "operator.save", "ben", ""), {}).status_code
    assert ["Ben O."] == named_of_runs(shop)
