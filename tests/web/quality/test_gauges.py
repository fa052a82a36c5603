"""The incident that a failed gauge check opens: where it is listed, what it shows, and what is told of it."""

from __future__ import annotations

import re
import uuid

import pytest
from flask.testing import FlaskClient

from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.ledger.gauge_check_corrections import cancel_check
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.store import GaugeIncident
from tests.web.conftest import Shop
from tests.web.corrections import correct, drawn
from tests.web.markup import words


@pytest.fixture
def check(shop: Shop) -> uuid.UUID:
    """T0001 makes 20 and 113 holes and then fails the gauge."""
    for holes in (20, 113):
        shop.log(holes=holes)
        shop.clock.move(minutes=1)
    return failed(shop)


def failed(shop: Shop) -> uuid.UUID:
    """One more failed check of T0001."""
    id_ = uuid.uuid4()
    record_gauge_check(shop.work, id_, "T0001", GaugeResult.FAILED, "ben", note="NO-GO enters")
    shop.clock.move(minutes=1)
    return id_


def test_it_stands_among_the_incidents_and_on_the_board(client: FlaskClient, check: uuid.UUID) -> None:
    """What is suspect, in short, with the way to the parts."""
    for address in ("/quality/incidents", "/quality/", "/crib/taps/T0001"):
        assert f'href="/quality/gauge/{check}"' in client.get(address).text
    listed = words(client.get("/quality/incidents"))
    assert "side plate J-1 Tapping arm 1 T0001 M8 spiral point Structural steel – 133 holes in 2 runs suspect" in listed
    assert "Failed the gauge: not known" in listed
    board = words(client.get("/quality/"))
    assert "1 gauge check failed: T0001, 2026-03-02: 133 holes in 2 runs suspect" in board


def test_its_page_lists_the_suspect_parts(client: FlaskClient, check: uuid.UUID, shop: Shop) -> None:
    """Since when, and each run with where, what, how many holes and parts; failing again adds nothing."""
    failed(shop)
    page = client.get(f"/quality/gauge/{check}")
    told = words(page)
    assert "133 holes in 2 runs suspect, since it was new: no check passed." in told
    assert "Ben O.: NO-GO enters; failed again 1 time with no run between" in told
    assert re.search(r"08:0\d side plate J-1 Tapping arm 1 Structural steel 113 up to \d+ Ada K\.", told)
    assert 'href="/crib/taps/T0001"' in page.text
    assert "/entries" in page.text


def test_the_crib_is_told_at_once(client: FlaskClient, shop: Shop) -> None:
    """Whoever keeps a failed check reads what follows from it."""
    shop.log()
    form = {"gauge-id": str(uuid.uuid4()), "gauge-result": "failed", "gauge-person": "ben", "gauge-note": ""}
    answer = client.post("/crib/gauge/T0001", data=form, follow_redirects=True)
    assert "Saved: failed. Parts made since the last check that passed are suspect" in answer.text


def test_the_cause_is_told_and_told_anew(client: FlaskClient, check: uuid.UUID, shop: Shop) -> None:
    """The first time without a reason, later with one; the list tells the newest."""
    address = f"/quality/gauge/{check}"
    assert "reason" not in drawn(client.get(address).text, address)
    assert 303 == correct(client, address, cause="lubricant", account="Dry.").status_code
    assert "No or wrong lubricant : Dry. Stored" in words(client.get(address))
    refused = correct(client, address, cause="worn out", account="Past its life.")
    assert 400 == refused.status_code
    assert "Past its life." in refused.text
    assert 303 == correct(client, address, cause="worn out", account="Past its life.", reason="measured").status_code
    assert "Failed the gauge: used past its life Past its life." in words(client.get("/quality/incidents"))
    assert 2 == shop.count(GaugeIncident)


def test_nobody_overwrites_what_they_did_not_see(client: FlaskClient, check: uuid.UUID) -> None:
    """Two read the page; the second is told."""
    address = f"/quality/gauge/{check}"
    form = drawn(client.get(address).text, address) | {"person": "ben", "cause": "too fast"}
    assert 303 == client.post(address, data=form).status_code
    late = client.post(address, data=form | {"id": str(uuid.uuid4()), "reason": "late"})
    assert 409 == late.status_code
    assert "in the meantime" in late.text


def test_a_cancelled_check_takes_it_away(client: FlaskClient, check: uuid.UUID, shop: Shop) -> None:
    """From the lists, and its page is not found."""
    cancel_check(shop.work, check, "wrong gauge", "ben")
    for address in ("/quality/incidents", "/quality/", "/crib/taps/T0001"):
        assert f'href="/quality/gauge/{check}"' not in client.get(address).text
    assert 404 == client.get(f"/quality/gauge/{check}").status_code
