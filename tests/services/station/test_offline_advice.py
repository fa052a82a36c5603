"""What a tablet keeps of the risk for the time without network."""

from __future__ import annotations

import json
import math
from dataclasses import asdict

import pytest

from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.offline_advice import KeptAdvice, kept_advice
from shopfloor.services.station.page import at_station
from tests.factories import Shop


@pytest.fixture
def worn_shop(sqlite_shop: Shop) -> Shop:
    """A shop whose taps break at 400 or so; T1 is in the arm with 100 holes on it."""
    for age in range(320, 481, 16):
        tap = receive_tap(sqlite_shop.work, None, "M8 SP", "bo")
        log_run(sqlite_shop.work, sqlite_shop.entry(tap=tap, holes=age, tap_end=TapEnd.BROKEN, broke_at_hole=age))
        sqlite_shop.clock.move(minutes=30)
    fit_tap(sqlite_shop.work, "T1", "arm", "ada")
    sqlite_shop.clock.move(minutes=30)
    log_run(sqlite_shop.work, sqlite_shop.entry(holes=100))
    return sqlite_shop


def kept(shop: Shop, job: str = "J1") -> KeptAdvice:
    """What is kept of T1 in the job."""
    return next(one for one in kept_advice(shop.work, "arm") if (one.tap, one.job) == ("T1", job))


def test_now_it_says_what_the_station_page_says(worn_shop: Shop) -> None:
    """The same chance and interval for the same batch, and the same age for a change."""
    found = kept(worn_shop)
    page = at_station(worn_shop.work, "arm", "ada", "J1", rest=50, has_rest=True)
    assert page.tap is not None
    risk = page.tap.outlook.risk
    assert risk is not None
    assert pytest.approx((risk.value, risk.lower, risk.upper), rel=1e-3) == found.risks[0][found.batches.index(50)]
    assert found.timing is not None
    assert (page.tap.outlook.decision.change_at, page.tap.holes) == (found.timing.change_at, found.made)
    assert found.usual_rate is not None
    assert page.tap.outlook.usual_risk == pytest.approx(-math.expm1(-50 * found.usual_rate), rel=1e-3)


def test_after_further_holes_it_says_what_the_log_will_say(worn_shop: Shop) -> None:
    """Within a fifth: the log learns a little from those holes, too."""
    before = kept(worn_shop)
    log_run(worn_shop.work, worn_shop.entry(holes=100))
    after = kept(worn_shop)
    at = before.further.index(100)
    for told, is_said in zip(before.risks[at], after.risks[0], strict=True):
        assert told is not None
        assert is_said is not None
        assert pytest.approx(is_said[0], rel=0.2) == told[0]


def test_risk_rises_with_holes_made_and_with_holes_to_come(worn_shop: Shop) -> None:
    """Such taps wear out."""
    values = [[risk[0] for risk in row if risk] for row in kept(worn_shop).risks]
    assert all(row == sorted(row) for row in values)
    assert [column[0] for column in values[:5]] == sorted(column[0] for column in values[:5])


def test_it_is_small_json(worn_shop: Shop) -> None:
    """A few kilobytes for each job."""
    assert len(json.dumps(asdict(kept(worn_shop)))) < 3000


def test_nothing_is_kept_where_nothing_can_be_told(sqlite_shop: Shop) -> None:
    """A log without failures, or no tap in the station."""
    assert () == kept_advice(sqlite_shop.work, "arm")
    fit_tap(sqlite_shop.work, "T1", "arm", "ada")
    assert () == kept_advice(sqlite_shop.work, "arm")
