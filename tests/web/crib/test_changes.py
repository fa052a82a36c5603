"""The crib's pages that put an entry right: what they ask, refuse and keep."""

from __future__ import annotations

import uuid

import pytest
from flask.testing import FlaskClient

from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.store import Cancellation, GaugeCheck
from tests.web.conftest import Shop
from tests.web.corrections import cancellation, correct, drawn
from tests.web.markup import words

NOWHERE = uuid.uuid4()


@pytest.fixture
def check(shop: Shop) -> str:
    """The address of a failed check of T0001, after one run."""
    shop.log()
    shop.clock.move(seconds=30)
    id_ = uuid.uuid4()
    record_gauge_check(shop.work, id_, "T0001", GaugeResult.FAILED, "ada", note="third hole")
    return f"/crib/checks/{id_}"


def test_the_tap_leads_to_its_checks(client: FlaskClient, check: str) -> None:
    """Each entry that counts can be corrected or cancelled from the tap's page."""
    assert f'href="{check}"' in client.get("/crib/taps/T0001").text
    assert "Failed 2026-03-02 08:02, Ada K.: third hole" in words(client.get(check))


def test_a_corrected_check_shows_both(client: FlaskClient, check: str, shop: Shop) -> None:
    """The old one is struck, with who changed it, when and why; the untouched time keeps its seconds."""
    shop.clock.move(minutes=5)
    assert 303 == correct(client, check, result="passed", reason="wrong end of the gauge").status_code
    page = client.get("/crib/taps/T0001")
    assert "Passed 2026-03-02 08:02, Ada K.: third hole" in words(page)
    assert "Corrected 2026-03-02 08:07, Ben O.: wrong end of the gauge" in words(page)
    assert 1 == page.text.count('class="crib-entry struck"')
    newest, old = tap_history(shop.work, "T0001").checks
    assert newest.checked_at == old.checked_at
    assert "wrong end of the gauge" in words(client.get(f"/crib/checks/{newest.id}"))


def test_a_cancelled_check_stays_struck(client: FlaskClient, check: str, shop: Shop) -> None:
    """It can be read, but no longer changed from the tap's page."""
    assert 303 == client.post(f"{check}/cancel", data=cancellation()).status_code
    page = client.get("/crib/taps/T0001")
    assert "Cancelled 2026-03-02 08:02, Ben O.: another tap" in words(page)
    assert f'href="{check}"' not in page.text
    assert 1 == shop.count(Cancellation)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "Why? it is missing; fill it in"),
        ({"reason": "so", "person": ""}, "Who changes it: it is missing"),
        ({"reason": "so", "person": "eve"}, "'eve' is not a person of this shop"),
        ({"reason": "so", "checked_at": "yesterday"}, "When: 'yesterday' is not a date; write it like"),
        ({"reason": "so", "checked_at": ""}, "When: it is missing"),
        ({"reason": "so", "checked_at": "2031-01-01 10:00"}, "lies in the future"),
        ({"reason": "so", "result": "perhaps"}, "'perhaps' is not known"),
    ],
)
def test_a_bad_correction_is_refused(
    client: FlaskClient, check: str, shop: Shop, fields: dict[str, str], told: str
) -> None:
    """Each field is named, and what was typed is kept."""
    answer = correct(client, check, note="a long story", **fields)
    assert 400 == answer.status_code
    assert told in words(answer)
    assert "a long story" in answer.text
    assert 1 == shop.count(GaugeCheck)


def test_a_cancellation_needs_a_reason(client: FlaskClient, check: str, shop: Shop) -> None:
    """And who cancels."""
    answer = client.post(f"{check}/cancel", data=cancellation(reason="", person=""))
    assert 400 == answer.status_code
    assert "Why? it is missing" in words(answer)
    assert "Who changes it: it is missing" in words(answer)
    assert 0 == shop.count(Cancellation)


def test_what_was_changed_in_the_meantime_is_said(client: FlaskClient, check: str) -> None:
    """409, with what to open instead."""
    correct(client, check, result="passed", reason="so")
    for answer in (correct(client, check, reason="so"), client.post(f"{check}/cancel", data=cancellation())):
        assert 409 == answer.status_code
        assert "corrected or cancelled in the meantime; open the newest entry" in words(answer)


@pytest.mark.parametrize("address", ["checks/{}", "checks/{}/cancel", "movements/{}", "movements/{}/cancel"])
def test_entries_that_are_not_there(client: FlaskClient, address: str) -> None:
    """404, whatever is done with them."""
    for id_ in (NOWHERE, "T0001"):
        assert 404 == client.post(f"/crib/{address.format(id_)}", data={}).status_code
    for kind in ("checks", "movements"):
        assert 404 == client.get(f"/crib/{kind}/{NOWHERE}").status_code


@pytest.fixture
def fit(shop: Shop) -> str:
    """The address of the movement by which T0001 was fitted."""
    return f"/crib/movements/{tap_history(shop.work, 'T0001').movements[0].id}"


def test_the_tap_leads_to_its_movements(client: FlaskClient, fit: str) -> None:
    """The page shows what the movement says, and what cannot be corrected."""
    assert f'href="{fit}"' in client.get("/crib/taps/T0001").text
    page = words(client.get(fit))
    assert "2026-03-02 08:01 Issued to a station, arm-1, Ada K." in page
    assert "cancel the entry and book it again" in page
    assert "How many taps" not in page


def test_a_corrected_fit_shows_both_stations(client: FlaskClient, fit: str) -> None:
    """The old one is struck; the tap is where the newest says."""
    assert 303 == correct(client, fit, station="air-1", reason="typed the wrong arm").status_code
    page = client.get("/crib/taps/T0001")
    assert "in air-1" in words(page)
    assert "Corrected 2026-03-02 08:01, Ben O.: typed the wrong arm" in words(page)
    assert 1 == page.text.count('class="crib-entry struck"')


def test_a_cancelled_fit_is_struck_and_leaves_the_board(client: FlaskClient, fit: str) -> None:
    """Neither the board nor the ledger counts it; both pages still tell of it."""
    assert "T0001" in words(client.get("/crib/"))
    assert 303 == client.post(f"{fit}/cancel", data=cancellation()).status_code
    assert "T0001" not in words(client.get("/crib/"))
    assert "Cancelled 2026-03-02 08:01, Ben O.: another tap" in words(client.get("/crib/taps/T0001"))
    ledger = words(client.get("/crib/stock/M8 spiral point"))
    assert "2 in the crib" in ledger
    assert "Corrected or cancelled T0001 2026-03-02 08:01 Issued to a station" in ledger


def test_a_count_is_corrected_from_the_ledger(client: FlaskClient, shop: Shop) -> None:
    """The number as it was counted is offered, and what it changed is worked out anew."""
    shop.clock.move(minutes=1)
    count = {"id": str(uuid.uuid4()), "movement": "counted", "number": "5", "person": "ben"}
    client.post("/crib/stock/M8 spiral point", data=count)
    address = f"/crib/movements/{count['id']}"
    assert f'href="{address}"' in client.get("/crib/stock/M8 spiral point").text
    assert "5" == drawn(client.get(address).text, address)["number"]
    shop.clock.move(minutes=1)
    answer = correct(client, address, number="four", reason="miscounted")
    assert (400, True) == (answer.status_code, "'four' is not a whole number" in words(answer))
    assert "/crib/stock/M8%20spiral%20point" == correct(client, address, number="4", reason="miscounted").location
    assert "4 in the crib" in words(client.get("/crib/stock/M8 spiral point"))


def test_a_cancellation_that_contradicts_the_log_says_what_to_do_first(
    client: FlaskClient, fit: str, shop: Shop
) -> None:
    """409 with the reason kept; nothing is stored."""
    shop.log()
    answer = client.post(f"{fit}/cancel", data=cancellation(reason="not fitted at all"))
    assert 409 == answer.status_code
    assert "T0001 was used since (run of 2026-03-02 08:02); cancel or correct the runs since first" in words(answer)
    assert "not fitted at all" in answer.text
    assert 0 == shop.count(Cancellation)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "Why? it is missing; fill it in"),
        ({"reason": "so", "person": ""}, "Who changes it: it is missing"),
        ({"reason": "so", "moved_at": "soon"}, "When: 'soon' is not a date"),
        ({"reason": "so", "station": "moon"}, "Station: 'moon' is not a station of this shop"),
    ],
)
def test_a_bad_correction_of_a_movement_is_refused(
    client: FlaskClient, fit: str, fields: dict[str, str], told: str
) -> None:
    """Each field is named, and what was typed is kept."""
    answer = correct(client, fit, note="a long story", **fields)
    assert 400 == answer.status_code
    assert told in words(answer)
    assert "a long story" in answer.text


def test_a_movement_changed_in_the_meantime_is_said(client: FlaskClient, fit: str) -> None:
    """409, with what to open instead."""
    correct(client, fit, reason="so")
    for answer in (correct(client, fit, reason="so"), client.post(f"{fit}/cancel", data=cancellation())):
        assert 409 == answer.status_code
        assert "corrected or cancelled in the meantime; open the newest entry" in words(answer)
