"""Photographs from tablets: each stored once however often it is sent; nothing but pictures."""

from __future__ import annotations

import io
import uuid
from collections.abc import Mapping
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.services.quality.images import LARGEST_BYTES
from shopfloor.services.quality.photographs import NotKept
from shopfloor.store import Photograph
from shopfloor.web.sync import views
from tests.pictures import encoded, picture
from tests.web.conftest import Shop
from tests.web.gate import close
from tests.web.sync.sent import problems

SENT = encoded(picture())
JPEG = {"Content-Type": "image/jpeg"}


def broken(shop: Shop) -> uuid.UUID:
    """T0001 broke."""
    return shop.log(tap_end="broken", broke_at_hole=20, part_fate="good")


def send(
    client: FlaskClient,
    run: uuid.UUID,
    id_: uuid.UUID | None = None,
    content: bytes = SENT,
    headers: Mapping[str, str] = JPEG,
) -> TestResponse:
    """Send a photograph of the break in a run."""
    address = f"/sync/runs/{run}/photographs/{id_ or uuid.uuid4()}"
    return client.post(address, data=content, headers=dict(headers))


def test_a_photograph_is_stored_once_however_often_it_is_sent(client: FlaskClient, shop: Shop) -> None:
    """201, then 200 with the same answer, in the shape of a run's."""
    run, id_ = broken(shop), uuid.uuid4()
    answers = [send(client, run, id_) for _ in range(3)]
    assert [201, 200, 200] == [answer.status_code for answer in answers]
    assert [{"id": str(id_), "stored": True}] * 3 == [answer.json for answer in answers]
    assert 1 == shop.count(Photograph)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_pictures_are_taken_too(client: FlaskClient, shop: Shop, kind: str) -> None:
    """What it is tells its content."""
    content = encoded(picture(), kind)
    assert (
        201
        == send(client, broken(shop), content=content, headers={"Content-Type": f"image/{kind.lower()}"}).status_code
    )


@pytest.mark.parametrize("content", [b"<html><script>alert(1)</script></html>", b"", encoded(picture())[:800]])
def test_what_is_no_picture_is_refused(client: FlaskClient, shop: Shop, content: bytes) -> None:
    """400, whatever it is called."""
    answer = send(client, broken(shop), content=content)
    assert (400, ["photograph"]) == (answer.status_code, problems(answer))
    assert 0 == shop.count(Photograph)


@pytest.mark.parametrize(
    "kind", ["", "image/svg+xml", "image/gif", "text/html", "multipart/form-data", "application/json", "text/plain"]
)
def test_what_does_not_call_itself_a_picture_is_refused(client: FlaskClient, shop: Shop, kind: str) -> None:
    """400: a form of another site can send some of these, but never a picture."""
    answer = send(client, broken(shop), headers={"Content-Type": kind})
    assert (400, ["photograph"]) == (answer.status_code, problems(answer))


class Unread(io.BytesIO):
    """A body that must not be read."""

    def read(self, size: int | None = -1, /) -> bytes:
        """Nobody may."""
        raise AssertionError(f"{size} bytes of a body were read that is too large")


def test_a_large_body_is_refused_before_it_is_read(client: FlaskClient, shop: Shop) -> None:
    """413, in plain words; one byte less is looked at."""
    address = f"/sync/runs/{broken(shop)}/photographs/{uuid.uuid4()}"
    too_many = {"wsgi.input": Unread(), "CONTENT_LENGTH": str(LARGEST_BYTES + 1)}
    answer = client.post(address, content_type="image/jpeg", environ_overrides=too_many)
    assert (413, ["photograph"]) == (answer.status_code, problems(answer))
    assert "it has more than 500 kB" in answer.text
    assert 400 == client.post(address, data=b"x" * LARGEST_BYTES, content_type="image/jpeg").status_code


def test_a_run_without_a_broken_tap_is_refused(client: FlaskClient, shop: Shop) -> None:
    """409 for a good tap, 404 for a run that is not there."""
    answer = send(client, shop.log())
    assert (409, ["run"]) == (answer.status_code, problems(answer))
    assert 404 == send(client, uuid.uuid4()).status_code


def test_a_fifth_one_is_refused(client: FlaskClient, shop: Shop) -> None:
    """409, with what to do."""
    run = broken(shop)
    answers = [send(client, run) for _ in range(5)]
    assert [201] * 4 + [409] == [answer.status_code for answer in answers]
    assert "4 photographs already" in answers[-1].text


@pytest.mark.parametrize("headers", [{"Origin": "https://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}])
def test_a_page_of_another_site_is_refused(client: FlaskClient, shop: Shop, headers: dict[str, str]) -> None:
    """403, as for runs."""
    assert 403 == send(client, broken(shop), headers=JPEG | headers).status_code
    assert 0 == shop.count(Photograph)


def test_a_full_disk_asks_to_wait(client: FlaskClient, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """503, at which a tablet sends it again later."""

    def full(*_: Any) -> bool:
        raise NotKept

    monkeypatch.setattr(views, "keep_photograph", full)
    answer = send(client, broken(shop))
    assert (503, ["photograph"]) == (answer.status_code, problems(answer))
    assert "cannot write it to its disk" in answer.text


def test_with_pins_it_is_taken_from_whoever_made_the_entry(client: FlaskClient, shop: Shop) -> None:
    """At the tablet where its person gave the PIN; at another device, or before the PIN is given, it waits (401)."""
    before = broken(shop)
    gate = close(shop, client)
    assert 401 == send(gate.enrolled(), before).status_code
    tablet = gate.as_("ada")
    shop.clock.move(minutes=1)
    assert 201 == send(tablet, before).status_code
    assert 401 == send(gate.stranger(), before).status_code
