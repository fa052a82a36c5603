"""Photographs on the page of their break: served as a JPEG and nothing else, to whoever may see that page."""

from __future__ import annotations

import re
import uuid

import pytest
from flask.testing import FlaskClient

from shopfloor.services.quality.images import as_photograph
from shopfloor.services.quality.photographs import keep_photograph
from shopfloor.store import Cancellation
from shopfloor.store.picture_folder import picture_folder
from tests.pictures import encoded, photograph_with_a_place, picture
from tests.web.conftest import Shop
from tests.web.gate import close
from tests.web.markup import words

PAGE_IN_IT = encoded(picture(), comment=b"<script>alert(1)</script>")


@pytest.fixture
def run(shop: Shop) -> uuid.UUID:
    """T0001 broke."""
    return shop.log(tap_end="broken", broke_at_hole=20, part_fate="good")


@pytest.fixture
def id_(shop: Shop, run: uuid.UUID) -> uuid.UUID:
    """Its photograph."""
    made = uuid.uuid4()
    keep_photograph(shop.work, made, run, photograph_with_a_place())
    return made


def cancelled(id_: uuid.UUID, **fields: str) -> dict[str, str]:
    """The form that cancels it."""
    said = {"person": "ben", "reason": "of another tap"} | fields
    return {f"photograph-{id_}-{name}": value for name, value in said.items()}


def test_it_is_served_as_a_picture_and_nothing_else(client: FlaskClient, id_: uuid.UUID) -> None:
    """Named, typed, not to be guessed at, unable to load or run anything; without the place where it was taken."""
    answer = client.get(f"/quality/photographs/{id_}")
    headers = answer.headers
    assert (200, "image/jpeg", as_photograph(photograph_with_a_place())) == (
        answer.status_code, headers["Content-Type"], answer.data,
    )  # fmt: skip
    assert "nosniff" == headers["X-Content-Type-Options"]
    assert f"inline; filename=photograph-{id_}.jpg" == headers["Content-Disposition"]
    assert headers["Content-Security-Policy"].startswith("default-src 'none'; sandbox")
    assert "same-origin" == headers["Cross-Origin-Resource-Policy"]
    assert {"private", "no-cache"} == set(re.split(", *", headers["Cache-Control"]))


def test_a_page_hidden_in_it_is_not_served(client: FlaskClient, shop: Shop, run: uuid.UUID) -> None:
    """Neither in a remark nor behind the pixels."""
    id_ = uuid.uuid4()
    keep_photograph(shop.work, id_, run, PAGE_IN_IT + b"<script>alert(2)</script>")
    assert b"script" not in client.get(f"/quality/photographs/{id_}").data


def test_a_browser_that_has_it_asks_only_whether_it_may(client: FlaskClient, id_: uuid.UUID) -> None:
    """304 by its fingerprint."""
    tag = client.get(f"/quality/photographs/{id_}").headers["ETag"]
    assert 304 == client.get(f"/quality/photographs/{id_}", headers={"If-None-Match": tag}).status_code


NOBODYS = "0197b2c4-8a00-7000-8000-000000000001"


@pytest.mark.parametrize("name", ["..%2f..%2fsecret-key", "x.jpg", "../demo.sqlite", NOBODYS])
def test_nothing_but_an_id_finds_a_file(client: FlaskClient, id_: uuid.UUID, name: str) -> None:
    """404, whatever path somebody makes up."""
    assert 404 == client.get(f"/quality/photographs/{name}").status_code


def test_it_needs_the_rights_of_the_breaks_page(client: FlaskClient, shop: Shop, id_: uuid.UUID) -> None:
    """With PINs in use: whoever is logged in, and nobody else; only the quality lead cancels."""
    address = f"/quality/photographs/{id_}"
    run = shop.runs()[-1].id
    gate = close(shop, client)
    assert 303 == gate.stranger().get(address).status_code
    assert 303 == gate.enrolled().get(address).status_code
    page = gate.as_("ada").get(f"/quality/incidents/{run}").text
    assert (address in page, "Cancel this photograph" in page) == (True, False)
    assert 200 == client.get(address).status_code
    assert 403 == client.post(f"/quality/incidents/{run}/photographs/{id_}/cancel", data=cancelled(id_)).status_code
    assert "Cancel this photograph" in gate.as_("gil").get(f"/quality/incidents/{run}").text


def test_the_break_shows_it(client: FlaskClient, run: uuid.UUID, id_: uuid.UUID) -> None:
    """On its own page with a text in its place for who cannot see it; the lists say how many there are."""
    page = client.get(f"/quality/incidents/{run}")
    assert (
        f'<img src="/quality/photographs/{id_}" alt="Photograph 1 of the broken tap T0001" loading="lazy">' in page.text
    )
    assert "Stored 2026-03-02 08:02, Ada K." in words(page)
    assert "1 photograph" in words(client.get("/quality/incidents"))
    entries = client.get("/operator/arm-1/entries").text
    assert f'href="/quality/incidents/{run}" aria-label="1 photograph of tap T0001"' in entries


def test_a_break_without_one_shows_nothing(client: FlaskClient, run: uuid.UUID) -> None:
    """No heading over an empty list."""
    assert "hotograph" not in client.get(f"/quality/incidents/{run}").text
    assert "hotograph" not in client.get("/quality/incidents").text


def test_a_wrong_one_is_cancelled_with_a_reason(
    client: FlaskClient, run: uuid.UUID, id_: uuid.UUID, shop: Shop
) -> None:
    """It is not shown any more, but can be looked at, with who, when and why."""
    answer = client.post(f"/quality/incidents/{run}/photographs/{id_}/cancel", data=cancelled(id_))
    assert (303, f"/quality/incidents/{run}") == (answer.status_code, answer.location)
    page = client.get(f"/quality/incidents/{run}")
    assert "Cancelled 2026-03-02 08:02, Ben O.: of another tap" in words(page)
    assert ('<img src="/quality' in page.text, f'href="/quality/photographs/{id_}"' in page.text) == (False, True)
    assert "photograph" not in client.get("/quality/incidents").text
    assert 1 == shop.count(Cancellation)


def test_without_a_reason_nothing_is_cancelled(client: FlaskClient, run: uuid.UUID, id_: uuid.UUID, shop: Shop) -> None:
    """400; its form is open, with what is wrong and what was typed."""
    data = cancelled(id_, reason="")
    answer = client.post(f"/quality/incidents/{run}/photographs/{id_}/cancel", data=data)
    assert 400 == answer.status_code
    assert "Why? it is missing; fill it in" in words(answer)
    assert re.search(r"<details[^>]* open>", answer.text)
    assert '<option selected value="ben">' in answer.text
    assert 0 == shop.count(Cancellation)


def test_a_missing_file_is_told(client: FlaskClient, run: uuid.UUID, id_: uuid.UUID, shop: Shop) -> None:
    """A database brought back without its folder: words in place of a broken picture."""
    (picture_folder(shop.work.settings) / f"{id_}.jpg").unlink()
    page = client.get(f"/quality/incidents/{run}")
    assert ("its file is missing" in page.text, '<img src="/quality' in page.text) == (True, False)
    assert 404 == client.get(f"/quality/photographs/{id_}").status_code
