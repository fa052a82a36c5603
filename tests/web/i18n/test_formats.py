"""Numbers, amounts and times as pages write them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask

from shopfloor.app import create_app
from shopfloor.core.input.reader import Reader
from shopfloor.web.i18n import formats
from tests.web.conftest import MORNING, Shop


@pytest.fixture
def app(shop: Shop) -> Iterator[Flask]:
    """The pages of a shop in Paris, at 9:00 there."""
    paris = replace(shop.work.settings, time_zone="Europe/Paris")
    shop.clock.now = MORNING
    app = create_app(replace(shop.work, settings=paris))
    with app.app_context():
        yield app


def given(text: str, shop: Shop) -> datetime:
    """The moment that a file's cell stands for in Paris."""
    zone = replace(shop.work.settings, time_zone="Europe/Paris").zone
    moment = Reader({"when": text}).moment("when", zone, shop.clock())
    assert moment is not None
    return moment.astimezone(UTC)


@pytest.mark.usefixtures("app")
def test_a_date_alone_has_no_time(shop: Shop) -> None:
    """Nobody said midnight, so no page does."""
    day = given("2026-03-01", shop)
    assert ("2026-03-01", "", "1 day ago") == (formats.local_time(day), formats.local_clock(day), formats.ago(day))
    assert "today" == formats.ago(given("2026-03-02", shop))


@pytest.mark.usefixtures("app")
def test_a_time_is_shown_in_the_shops_zone(shop: Shop) -> None:
    """Also one that happens to be midnight elsewhere."""
    at = given("2026-03-02T00:00:00+00:00", shop)
    assert ("2026-03-02 01:00", "01:00", "8 hours ago") == (
        formats.local_time(at),
        formats.local_clock(at),
        formats.ago(at),
    )
    assert "just now" == formats.ago(shop.clock() + timedelta(seconds=20))
    assert ("never", formats.NO_VALUE) == (formats.ago(None), formats.local_time(None))


@pytest.mark.usefixtures("app")
def test_amounts_are_plain_without_a_currency() -> None:
    """No currency is guessed."""
    assert ("1,234.50", formats.NO_VALUE) == (formats.money(1234.5), formats.money(None))
