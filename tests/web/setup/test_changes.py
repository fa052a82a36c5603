"""Pages that change what is known: filled with it, signed, and with what it was before."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import unescape

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select

from shopfloor.services.access.rules import use_pins
from shopfloor.store import Person, TapType
from tests.web.conftest import Shop
from tests.web.gate import close

PAGES = {
    "people": "/setup/people/ada/change",
    "stations": "/setup/stations/arm-1/change",
    "materials": "/setup/materials/steel/change",
    "jobs": "/setup/jobs/J-1/change",
    "tap types": "/crib/types/M8 spiral point/change",
}
CHANGES = {
    "people": {"name": "Ada King"},
    "stations": {"torque_nm": "41"},
    "materials": {"hardness_hb": "155"},
    "jobs": {"planned_quantity": "16"},
    "tap types": {"unit_cost": "13.5", "supplier": "Supplier East", "lead_time_days": "9"},
}


def filled(page: str) -> dict[str, str | list[str]]:
    """The fields of the page's form as a browser would send them."""
    form = re.search(r'<form[^>]*method="post".*?</form>', page, re.S)
    assert form is not None
    values: dict[str, str | list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", form[0]):
        name, value = (re.search(rf' {what}="([^"]*)"', tag) for what in ("name", "value"))
        if name and "checkbox" in tag:
            held = values.setdefault(name[1], [])
            assert isinstance(held, list)
            held += [value[1]] if value and " checked" in tag else []
        elif name and ("radio" not in tag or " checked" in tag):
            values[name[1]] = unescape(value[1]) if value else ""
    for name_, inside in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form[0], re.S):
        chosen = re.search(r'<option selected value="([^"]*)"', inside)
        values[name_] = unescape(chosen[1]) if chosen else ""
    return values


def save(client: FlaskClient, kind: str, changes: Mapping[str, str | list[str]], person: str = "ben") -> str:
    """Send the page of this kind back with changes; the page that comes then."""
    form = filled(client.get(PAGES[kind]).text)
    return client.post(PAGES[kind], data={**form, "person": person, **changes}, follow_redirects=True).text


@pytest.mark.parametrize("kind", PAGES)
def test_a_change_is_saved_and_shown_with_what_was_before(client: FlaskClient, kind: str) -> None:
    """The form holds what is known; afterwards the page tells what was changed, by whom."""
    told = save(client, kind, CHANGES[kind])
    assert "Changed: " in told
    page = client.get(PAGES[kind]).text
    assert "What was changed" in page
    assert "Ben O." in page
    now = filled(page)
    assert all(value in str(now[name]) for name, value in CHANGES[kind].items())


@pytest.mark.parametrize("kind", PAGES)
def test_a_page_saved_as_it_is_changes_nothing(shop: Shop, client: FlaskClient, kind: str) -> None:
    """What is shown is what is known, to be typed back as it stands; nothing is put on record for it."""
    before = filled(client.get(PAGES[kind]).text)
    assert "Changed: " in save(client, kind, {})
    after = client.get(PAGES[kind]).text
    of_the_moment = dict.fromkeys(("seen", "person", "id", "csrf_token"), "")
    assert {**before, **of_the_moment} == {**filled(after), **of_the_moment}
    assert "<s>" not in after


def test_the_lists_lead_there(client: FlaskClient) -> None:
    """Each row has its way to change it, also in the new list of tap types."""
    for kind, address in PAGES.items():
        page = client.get("/crib/types" if kind == "tap types" else f"/setup/{kind}").text
        assert f'href="{address.replace(" ", "%20")}"' in page
    assert 'href="/crib/types"' in client.get("/crib/").text


def test_two_at_once(shop: Shop, client: FlaskClient) -> None:
    """The second is told who was first, keeps what was typed, sees what was changed, and may save then."""
    form = filled(client.get(PAGES["tap types"]).text)
    save(client, "tap types", {"unit_cost": "13"})
    late = {**form, "person": "ada", "unit_cost": "14"}
    answer = client.post(PAGES["tap types"], data=late)
    assert 409 == answer.status_code
    assert "Ben O. changed it in the meantime" in answer.text
    assert "<s>12</s> → <b>13</b>" in answer.text
    again = filled(answer.text)
    assert "14" == again["unit_cost"]
    assert 303 == client.post(PAGES["tap types"], data={**again, "person": "ada"}).status_code
    with shop.work.read() as session:
        assert 14 == session.scalar(select(TapType.unit_cost).where(TapType.code == "M8 spiral point"))


@pytest.mark.parametrize(
    ("kind", "changes", "told"),
    [
        ("tap types", {"unit_cost": "dear"}, "&#39;dear&#39; is not a price"),
        ("jobs", {"thread": "3/8"}, "not a thread designation"),
        ("stations", {"rpm_max": "1"}, "below the lowest speed"),
        ("materials", {"name": ""}, "it is missing"),
        ("people", {"person": "nobody"}, "not a person of this shop"),
        ("people", {"person": ""}, "it is missing"),
    ],
)
def test_bad_input_is_named_and_kept(client: FlaskClient, kind: str, changes: dict[str, str], told: str) -> None:
    """At its field; what was typed stays there."""
    page = save(client, kind, changes)
    assert told in page
    assert all(value in str(filled(page)[name]) for name, value in changes.items() if name != "person")


def test_nothing_is_found_under_another_code(client: FlaskClient) -> None:
    """In words, not as an error of ours."""
    for address in (
        *(f"/setup/{kind}/none/change" for kind in PAGES),
        "/crib/types/none/change",
        "/setup/x/y/change",
    ):
        assert 404 == client.get(address).status_code
        assert 404 == client.post(address, data={}).status_code


def test_roles_are_changed_by_touching_them(shop: Shop, client: FlaskClient) -> None:
    """A person may have several."""
    assert ["operator"] == filled(client.get(PAGES["people"]).text)["roles"]
    save(client, "people", {"roles": ["operator", "quality"]})
    assert ["operator", "quality"] == filled(client.get(PAGES["people"]).text)["roles"]


def test_the_last_supervisor_stays_one(shop: Shop, client: FlaskClient) -> None:
    """With PINs in use somebody must be able to let people in."""
    sue = close(shop, client).as_("sue")
    form = filled(sue.get("/setup/people/sue/change").text)
    answer = sue.post("/setup/people/sue/change", data={**form, "roles": ["operator"]})
    assert (400, True) == (answer.status_code, "nobody could let people and tablets in" in answer.text)


def test_only_a_supervisor_changes_roles_once_there_is_one(shop: Shop, client: FlaskClient) -> None:
    """Also while PINs are not in use: whoever has a password could make themselves one."""
    gate = close(shop, client)
    use_pins(shop.work, is_in_use=False)
    assert [403, 200] == [gate.as_(one).get("/setup/people/ben/change").status_code for one in ("ben", "sue")]
    assert 200 == gate.as_("ben").get("/setup/materials/steel/change").status_code


def test_a_known_code_is_answered_in_words(client: FlaskClient) -> None:
    """What a person has already is told by its name, at the field that was filled in."""
    answer = client.post("/setup/people", data={"code": "ada", "name": "Ada K.", "role": "crib"})
    assert "it is &#39;Operator&#39; already" in answer.text
    assert "object at" not in answer.text
    assert 400 == answer.status_code


def test_who_adds_is_on_record(shop: Shop, client: FlaskClient) -> None:
    """With PINs in use it is whoever is logged in."""
    sue = close(shop, client).as_("sue")
    assert 303 == sue.post("/setup/people", data={"code": "cy", "name": "Cy M.", "role": "operator"}).status_code
    with shop.work.read() as session:
        made = session.scalars(select(Person).where(Person.code == "cy")).one().edit
        assert made is not None
        assert "sue" == session.get_one(Person, made.by_id).code
