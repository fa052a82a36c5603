"""The page of one break: what it shows, refuses and keeps."""

from __future__ import annotations

import re
import uuid

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.store import Cancellation, Incident
from tests.web.conftest import Shop
from tests.web.corrections import cancellation, correct, drawn
from tests.web.markup import words


@pytest.fixture
def incident(shop: Shop) -> str:
    """The address of the break of T0001."""
    run = shop.log(tap_end="broken", broke_at_hole=20, cause="too fast", note="Loud.", part_fate="good")
    return f"/quality/incidents/{run}"


def cancel(client: FlaskClient, address: str, **fields: str) -> TestResponse:
    """Take the incident back as its form was drawn, but for these fields."""
    seen = drawn(client.get(address).text, f"{address}/cancel")
    return client.post(f"{address}/cancel", data=seen | cancellation(**fields))


def test_the_list_leads_to_the_story(client: FlaskClient, incident: str) -> None:
    """With what was told, by whom and when."""
    assert f'href="{incident}"' in client.get("/quality/incidents").text
    page = words(client.get(incident))
    assert "It broke in the run of 2026-03-02 08:02; part good." in page
    assert "Too fast : Loud. Stored 2026-03-02 08:02, Ada K." in page


def test_a_corrected_story_shows_both(client: FlaskClient, incident: str) -> None:
    """The list tells the newest; the page strikes the old one, with who changed it, when and why."""
    fields = {"cause": "chips packed", "account": "Deep hole.", "part_fate": "scrapped", "reason": "saw the scrap"}
    assert 303 == correct(client, incident, **fields).status_code
    page = client.get(incident)
    assert "Chips packed : Deep hole." in words(page)
    assert "Too fast : Loud. Stored 2026-03-02 08:02, Ada K. Corrected 2026-03-02 08:02, Ben O.: saw the" in words(page)
    assert "Part good Corrected 2026-03-02 08:02, Ben O.: saw the scrap" in words(page)
    assert 2 == page.text.count('class="struck"')
    assert re.search("Chips packed Deep hole. .*Part scrapped", words(client.get("/quality/incidents")))
    assert "Too fast 1" not in words(client.get("/quality/incidents"))


def test_a_cancelled_story_leaves_the_break(client: FlaskClient, incident: str, shop: Shop) -> None:
    """Not known is its cause, and there is nothing left to cancel."""
    assert 303 == cancel(client, incident, reason="of another tap").status_code
    page = client.get(incident)
    assert "Cancelled 2026-03-02 08:02, Ben O.: of another tap" in words(page)
    assert f"{incident}/cancel" not in page.text
    assert "Not known 1" in words(client.get("/quality/incidents"))
    assert 1 == shop.count(Cancellation)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "Why? it is missing; fill it in"),
        ({"reason": "so", "person": ""}, "Who changes it: it is missing"),
        ({"reason": "so", "person": "eve"}, "'eve' is not a person of this shop"),
        ({"reason": "so", "cause": "ghosts"}, "'ghosts' is not known"),
        ({"reason": "so", "part_fate": "eaten"}, "'eaten' is not known"),
    ],
)
def test_a_bad_correction_is_refused(
    client: FlaskClient, incident: str, shop: Shop, fields: dict[str, str], told: str
) -> None:
    """Each field is named, and what was typed is kept."""
    answer = correct(client, incident, account="a long story", **fields)
    assert 400 == answer.status_code
    assert told in words(answer)
    assert "a long story" in answer.text
    assert 1 == shop.count(Incident)


def test_a_cancellation_needs_a_reason(client: FlaskClient, incident: str, shop: Shop) -> None:
    """And who cancels."""
    answer = cancel(client, incident, reason="", person="")
    assert 400 == answer.status_code
    assert "Why? it is missing" in words(answer)
    assert 0 == shop.count(Cancellation)


def test_what_was_changed_in_the_meantime_is_said(client: FlaskClient, incident: str) -> None:
    """409 for whoever read the old incident."""
    page = client.get(incident).text
    old, old_cancel = drawn(page, incident), drawn(page, f"{incident}/cancel")
    correct(client, incident, reason="saw the scrap")
    signed = {"person": "ben", "reason": "so"}
    for answer in (
        client.post(incident, data=old | signed | {"id": str(uuid.uuid4())}),
        client.post(f"{incident}/cancel", data=old_cancel | cancellation()),
    ):
        assert 409 == answer.status_code
        assert "corrected or cancelled in the meantime; open the page again" in words(answer)


def test_breaks_that_are_not_there(client: FlaskClient, shop: Shop) -> None:
    """A run in which nothing broke, and none at all: 404."""
    for run in (shop.log(), uuid.uuid4()):
        address = f"/quality/incidents/{run}"
        assert 404 == client.get(address).status_code
        assert [404, 404] == [client.post(way, data={}).status_code for way in (address, f"{address}/cancel")]
