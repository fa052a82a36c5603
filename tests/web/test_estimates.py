"""Pages say how old the estimates are that they show, or that there are none yet."""

from __future__ import annotations

import re
from typing import NoReturn

import pytest
from flask.testing import FlaskClient

from shopfloor.services.advice import estimates
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.ledger.taps import receive_tap
from tests.web.conftest import Shop

PAGES = ("/operator/arm-1/", "/crib/", "/crib/taps/T0001", "/quality/life")


def refuse(*_: object) -> NoReturn:
    """In place of what must not happen in a page."""
    raise AssertionError("worked out from the log")


@pytest.fixture
def used(client: FlaskClient, shop: Shop) -> FlaskClient:
    """A tablet at arm-1, used by Ada for J-1; four taps broke there, T0001 is at work."""
    for holes in (90, 120, 150, 180):
        tap = receive_tap(shop.work, None, "M8 spiral point", "ben")
        shop.log(tap=tap, holes=holes, tap_end="broken", broke_at_hole=holes - 5)
    shop.log(tap="T0001")
    client.post("/operator/arm-1/person", data={"person": "ada"})
    client.post("/operator/arm-1/job", data={"job": "J-1"})
    return client


def seen(client: FlaskClient, page: str) -> str:
    """What a page says, without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", client.get(page).text))


@pytest.mark.parametrize("page", PAGES)
def test_a_page_says_how_old_its_estimates_are(
    used: FlaskClient, shop: Shop, page: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In both languages, with the day if it is another one; nothing is said or worked out anew while they are kept."""
    assert "Estimates as of" not in seen(used, page)
    make_generation(shop.work)
    monkeypatch.setattr(estimates, "WorkedOut", refuse)
    estimates.forget()
    time = f"{shop.clock():%H:%M}"
    assert f"Estimates as of {time}." in seen(used, page)
    shop.clock.move(days=1)
    assert f"Estimates as of 2026-03-02 {time}." in seen(used, page)
    used.get("/language/es")
    assert f"Estimaciones calculadas: 2026-03-02 {time}." in seen(used, page)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_says_that_estimates_are_still_to_come(
    used: FlaskClient, page: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the log is long and nothing has been worked out; it waits for nothing, and what needs no estimate stays."""
    monkeypatch.setattr(estimates, "WorkedOut", refuse)
    monkeypatch.setattr(estimates, "YOUNG", 1)
    said = seen(used, page)
    assert "Estimates are being worked out" in said
    assert "T0001" in said or page == "/quality/life"
    used.get("/language/es")
    assert "Las estimaciones se están calculando" in seen(used, page)


@pytest.mark.parametrize("page", ["/", "/operator/arm-1/next-tap", "/operator/arm-1/card", "/crib/orders", "/quality/"])
def test_no_page_fails_while_estimates_are_still_to_come(
    used: FlaskClient, page: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor works anything out."""
    monkeypatch.setattr(estimates, "WorkedOut", refuse)
    monkeypatch.setattr(estimates, "YOUNG", 1)
    assert 200 == used.get(page, follow_redirects=True).status_code
