"""The crib is asked back too: a delivery, or a count, that is hardly meant."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.store import StockMovement
from tests.web.conftest import Shop
from tests.web.markup import words

TYPE = "M8 spiral point"
STOCK = f"/crib/stock/{TYPE}"


def book(client: FlaskClient, address: str, **typed: str) -> TestResponse:
    """Send the form of that page."""
    page = client.get(address).text
    id_ = re.findall(r'name="id"[^>]* value="([^"]*)"', page)[0]
    return client.post(address, data={"id": id_, "person": "ben", **typed})


def receive(client: FlaskClient, number: str, **typed: str) -> TestResponse:
    """A delivery of unmarked taps."""
    return book(client, "/crib/receive", tap_type=TYPE, number=number, used="none", **typed)


def test_a_delivery_far_larger_than_the_last_is_asked_back(client: FlaskClient, shop: Shop) -> None:
    """The first is held to nothing; a hundred after ten is asked, and booked by one touch."""
    for number in ("10", "30"):
        shop.clock.move(minutes=1)
        assert 303 == receive(client, number).status_code
    before = shop.count(StockMovement)
    asked = receive(client, "300")
    assert "Is this right? How many taps: 300? Last delivery: 30 Yes, 300 taps" in words(asked)
    assert (before, 200) == (shop.count(StockMovement), asked.status_code)
    assert 303 == receive(client, "300", sure="number=300").status_code
    assert before + 1 == shop.count(StockMovement)


@pytest.mark.parametrize(("number", "is_asked"), [("30", False), ("31", True), ("9", False)])
def test_a_count_far_above_the_ledger_is_asked_back(
    client: FlaskClient, shop: Shop, number: str, is_asked: bool
) -> None:
    """The ledger says ten, marked taps in the crib included."""
    book(client, STOCK, movement="counted", number="10")
    answer = book(client, STOCK, movement="counted", number=number)
    assert is_asked is ("? In the crib by the ledger: 10" in words(answer))
    assert (200 if is_asked else 303) == answer.status_code
    if is_asked:
        assert 303 == book(client, STOCK, movement="counted", number=number, sure=f"number={number}").status_code


def test_a_count_of_nothing_is_refused_where_marked_taps_lie(client: FlaskClient) -> None:
    """It is not asked back: the ledger knows of taps with codes of their own, and names them."""
    book(client, STOCK, movement="counted", number="10")
    answer = book(client, STOCK, movement="counted", number="0")
    assert 409 == answer.status_code
    assert "marked tap" in words(answer)
