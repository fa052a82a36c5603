"""A number that is hardly meant is asked back before it is saved, and is not offered as usual afterwards."""

from __future__ import annotations

import re
import uuid
from html import unescape

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.web.conftest import Shop
from tests.web.markup import words
from tests.web.operator.station_form import STATION, form, save

ENTRIES = f"{STATION}entries"


@pytest.fixture
def at_work(client: FlaskClient) -> FlaskClient:
    """A tablet at arm-1, used by Ada for J-1."""
    client.post(f"{STATION}person", data={"person": "ada"})
    client.post(f"{STATION}job", data={"job": "J-1"})
    return client


def answers(answer: TestResponse) -> tuple[str, str] | None:
    """What the touch that confirms says and sends; None where nothing is asked."""
    found = re.search(r'<button[^>]* name="sure" value="([^"]*)"[^>]*>([^<]*)</button>', answer.text)
    return (unescape(found[2]), found[1]) if found else None


def value(answer: TestResponse, name: str) -> str:
    """What a field holds."""
    return re.findall(rf'name="{name}"[^>]* value="([^"]*)"', answer.text)[0]


def test_a_number_that_is_hardly_meant_is_asked_back_and_not_offered(at_work: FlaskClient, shop: Shop) -> None:
    """1812 typed for 18: asked, kept as typed, saved by one touch, and not offered as last time."""
    shop.log(holes=18)
    typed = form(at_work, holes="1812")
    asked = at_work.post(STATION, data=typed)
    assert 1 == len(shop.runs())
    assert ("Yes, 1,812 holes", "holes=1812") == answers(asked)
    assert "Is this right? Holes: 1,812? Usual on this job: 18" in words(asked)
    assert "1812" == value(asked, "holes")
    assert 303 == at_work.post(STATION, data=typed | {"sure": "holes=1812"}).status_code
    assert [(18, None), (1812, "holes")] == [(run.holes, run.confirmed) for run in shop.runs()]
    assert "18 as last time" in words(at_work.get(STATION))
    assert 303 == save(at_work, holes="18").status_code


def test_confirming_one_number_confirms_no_other(at_work: FlaskClient, shop: Shop) -> None:
    """Who changes the number after the question is asked anew."""
    shop.log(holes=18)
    typed = form(at_work, holes="1813", sure="holes=1812")
    assert ("Yes, 1,813 holes", "holes=1813") == answers(at_work.post(STATION, data=typed))
    assert 1 == len(shop.runs())


def test_several_odd_numbers_are_asked_at_once(at_work: FlaskClient, shop: Shop) -> None:
    """Each at its field; one touch confirms them all."""
    shop.log(holes=18, rpm=100)
    typed = form(at_work, holes="60", cutting_slips="31", rpm="300")
    asked = at_work.post(STATION, data=typed)
    assert ("Yes, 60 holes, 31 cutting slips, 300 rpm", "holes=60 cutting_slips=31 rpm=300") == answers(asked)
    for field in ("holes", "cutting_slips", "rpm"):
        assert f'id="{field}-doubt"' in asked.text
    assert 303 == at_work.post(STATION, data=typed | {"sure": "rpm=300 holes=60 cutting_slips=31"}).status_code
    assert "holes cutting_slips rpm" == shop.runs()[-1].confirmed
    assert ("100", "18") == (value(at_work.get(STATION), "rpm"), value(at_work.get(STATION), "offered"))


def test_what_is_wrong_is_told_before_what_is_odd(at_work: FlaskClient, shop: Shop) -> None:
    """Nobody confirms a speed that the station cannot run."""
    shop.log(holes=18)
    refused = save(at_work, holes="1812", rpm="4000")
    assert (None, 400) == (answers(refused), refused.status_code)
    assert "Tapping arm 1 does not run at 4,000" in words(refused)


def test_the_same_save_sent_again_is_not_asked_back(at_work: FlaskClient, shop: Shop) -> None:
    """What is stored is stored: the answer was lost, and the job has no holes left by now."""
    typed = form(at_work, holes="48")
    assert 303 == at_work.post(STATION, data=typed).status_code
    shop.log(holes=5000)
    assert 303 == at_work.post(STATION, data=typed).status_code
    sure = form(at_work, holes="500", sure="holes=500")
    assert [303, 303] == [at_work.post(STATION, data=sure).status_code, at_work.post(STATION, data=sure).status_code]
    assert 303 == at_work.post(STATION, data=sure | {"sure": ""}).status_code


def test_a_confirmed_number_is_undone_like_any_other(at_work: FlaskClient, shop: Shop) -> None:
    """One touch on the notice takes it back."""
    shop.log(holes=18)
    saved = save(at_work, holes="1812", sure="holes=1812")
    run = shop.runs()[-1].id
    assert "Undo" in words(at_work.get(str(saved.location)))
    assert 303 == at_work.post(f"{STATION}entries/{run}/undo").status_code
    assert "18 as last time" in words(at_work.get(STATION))


def correction(client: FlaskClient, run: uuid.UUID, **changes: str) -> dict[str, str]:
    """The entry's form as drawn, with a reason, but for the changes."""
    drawn = client.get(f"{ENTRIES}/{run}/correct")
    names = ("id", "tap", "holes", "cutting_slips", "rpm")
    chosen = {"person": "ada", "job": "J-1", "tap_end": "still good", "reason": "typed wrong"}
    return {name: value(drawn, name) for name in names} | chosen | changes


def test_a_correction_asks_back_what_it_changes(at_work: FlaskClient, shop: Shop) -> None:
    """18 put right as 1812 is asked; a note on a confirmed batch is not, and the batch stays confirmed."""
    for _ in range(2):
        shop.log(holes=18)
    run = shop.log(holes=20)
    address = f"{ENTRIES}/{run}/correct"
    typed = correction(at_work, run, holes="1812")
    asked = at_work.post(address, data=typed)
    assert ("Yes, 1,812 holes", "holes=1812") == answers(asked)
    assert 303 == at_work.post(address, data=typed | {"sure": "holes=1812"}).status_code
    corrected = shop.runs()[-1]
    assert (1812, "holes") == (corrected.holes, corrected.confirmed)
    noted = correction(at_work, corrected.id, note="a whole pallet")
    assert 303 == at_work.post(f"{ENTRIES}/{corrected.id}/correct", data=noted).status_code
    assert ("a whole pallet", "holes") == (shop.runs()[-1].note, shop.runs()[-1].confirmed)
    right = correction(at_work, shop.runs()[-1].id, holes="18")
    assert 303 == at_work.post(f"{ENTRIES}/{shop.runs()[-1].id}/correct", data=right).status_code
    assert (18, None) == (shop.runs()[-1].holes, shop.runs()[-1].confirmed)
