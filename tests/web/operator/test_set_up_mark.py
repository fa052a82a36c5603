"""What stops a set-up is seen on the station page, not on the card alone."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import update

from shopfloor.core.set_up.question import Weight
from shopfloor.services.station.set_up_card import card_at
from shopfloor.store import Job
from tests.web.conftest import Shop
from tests.web.markup import words
from tests.web.operator.station_form import STATION

CARD = f"{STATION}card"
SHALLOW: dict[str, Any] = {"is_blind": True, "depth_mm": 18, "drill_depth_mm": 18}
FULL: dict[str, Any] = {"drilled_mm": 6.5}


@pytest.fixture
def at_work(client: FlaskClient) -> FlaskClient:
    """A tablet at arm-1, used by Ada for J-1."""
    client.post(f"{STATION}person", data={"person": "ada"})
    client.post(f"{STATION}job", data={"job": "J-1"})
    return client


def change(shop: Shop, **values: object) -> None:
    """Put another hole of J-1 on record."""
    with shop.work.write() as session:
        session.execute(update(Job).where(Job.code == "J-1").values(**values))


def mark(client: FlaskClient) -> tuple[str, str] | None:
    """The mark's words and where it leads; None where there is none."""
    found = re.search(r'<a class="set-up-mark[^"]*" href="([^"]*)">(.*?)</a>', client.get(STATION).text, re.DOTALL)
    return (" ".join(re.sub(r"<[^>]+>", " ", found[2]).split()), found[1]) if found else None


def test_a_set_up_that_must_not_start_is_marked_on_the_station_page(at_work: FlaskClient, shop: Shop) -> None:
    """In words, with a shape of its own, and its touch leads to the card's warnings."""
    change(shop, **SHALLOW)
    told = mark(at_work)
    assert told is not None
    assert told[0].startswith("Do not start like this ")
    assert f"{CARD}#warnings" == told[1]
    assert 'id="warnings"' in at_work.get(CARD).text
    assert 'class="state state-bad wrap">Do not start like this' in at_work.get(STATION).text


@pytest.mark.parametrize(
    "hole", [{"is_blind": False}, SHALLOW, FULL, {**SHALLOW, **FULL}, {"is_blind": True}, {"depth_mm": None}]
)
def test_the_mark_and_the_card_say_the_same(at_work: FlaskClient, shop: Shop, hole: dict[str, Any]) -> None:
    """As many as the card has that stop the work or are likely to break the tap; where it lacks something, none."""
    change(shop, **hole)
    card = card_at(shop.work, "arm-1", "J-1").card
    heavy = [one for one in card.warnings if one.weight in (Weight.STOP, Weight.SERIOUS)] if card else []
    if not heavy:
        assert mark(at_work) is None
        return
    number = "1 set-up warning" if len(heavy) == 1 else f"{len(heavy)} set-up warnings"
    assert (f"{heavy[0].weight.label} {number}", f"{CARD}#warnings") == mark(at_work)
    assert all(one.what in words(at_work.get(CARD)) for one in heavy)
