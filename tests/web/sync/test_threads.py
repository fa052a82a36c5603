"""Threads offered to whoever is typing one."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient


@pytest.mark.parametrize(
    ("text", "first"),
    [("3/8", "3/8-16 UNC"), (".250-20", "1/4-20 UNC"), ("m10×1.2", "M10x1.25"), ("half", "1/2-13 UNC")],
)
def test_what_is_typed_is_completed(client: FlaskClient, text: str, first: str) -> None:
    """The likeliest first, at most eight."""
    answer = client.get("/sync/threads", query_string={"text": text})
    assert (200, first) == (answer.status_code, answer.get_json()["threads"][0])
    assert len(answer.get_json()["threads"]) <= 8


@pytest.mark.parametrize("text", ["", "zebra", "😀" * 500, "../../etc"])
def test_whatever_else_is_typed_offers_nothing_or_something_alike(client: FlaskClient, text: str) -> None:
    """Never an error."""
    answer = client.get("/sync/threads", query_string={"text": text})
    assert 200 == answer.status_code
    assert isinstance(answer.get_json()["threads"], list)


def test_what_nobody_can_write_is_not_found(client: FlaskClient) -> None:
    """A NUL is refused as it arrives, before anything looks for it."""
    assert 404 == client.get("/sync/threads", query_string={"text": "\0"}).status_code


def test_a_foreign_page_is_refused(client: FlaskClient) -> None:
    """As at the other addresses for programs."""
    assert 403 == client.get("/sync/threads?text=M8", headers={"Sec-Fetch-Site": "cross-site"}).status_code
