"""What a station says before a batch: carry on, change within it, or fit a fresh tap now."""

from __future__ import annotations

from shopfloor.core.decision.when_to_change import Action, Decision
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.catalogue.tap_types import add_tap_type
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.page import TapHere, at_station
from shopfloor.web.operator.words import odds_told, suggestion_for
from tests.factories import Shop


def told(shop: Shop, holes: int, batch: int = 40) -> TapHere:
    """The tap in the station with so many holes on it, in a shop whose taps break at 400 or so."""
    for age in range(360, 441, 8):
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        log_run(shop.work, shop.entry(tap=tap, holes=age, tap_end=TapEnd.BROKEN, broke_at_hole=age))
        shop.clock.move(minutes=30)
    fit_tap(shop.work, "T1", "arm", "ada")
    shop.clock.move(minutes=30)
    log_run(shop.work, shop.entry(holes=holes))
    page = at_station(shop.work, "arm", "ada", "J1", rest=batch, has_rest=True)
    assert page.tap is not None
    return page.tap


def test_a_young_tap_carries_on(shop: Shop) -> None:
    """For several batches; its risk is below the usual one."""
    found = told(shop, 40).outlook
    assert Action.CARRY_ON is found.decision.action
    assert (found.decision.batches or 0) > 2
    assert found.risk is not None
    assert found.risk.value is not None
    assert found.usual_risk is not None
    assert found.risk.value < found.usual_risk < 0.1


def test_a_tap_past_its_age_gives_way_to_a_fresh_one(sqlite_shop: Shop) -> None:
    """The fresh ones are named, and not the tap itself."""
    tap = told(sqlite_shop, 390)
    assert Action.CHANGE_NOW is tap.outlook.decision.action
    assert ["T2", "T3"] == [one.code for one in tap.fresh]
    assert suggestion_for(tap).text.startswith("Fit a fresh tap now (T2, in the crib)")
    add_tap_type(sqlite_shop.work, {"code": "M8 SP", "thread": "M8", "bin": "C3"})
    moved = told(sqlite_shop, 390)
    assert suggestion_for(moved).text.startswith("Fit a fresh tap now (T2, in the crib, bin C3)")
    assert "; usual for this job is 1 in " in odds_told(tap.outlook)


def test_a_batch_larger_than_a_life_is_changed_within(sqlite_shop: Shop) -> None:
    """After the holes that are left to the age at which such taps are best changed."""
    tap = told(sqlite_shop, 40, batch=1000)
    found = tap.outlook.decision
    assert Action.WITHIN is found.action
    assert found.change_at is not None
    assert found.change_at - 40 == found.after_hole
    told_so = suggestion_for(tap)
    assert told_so.text.startswith(f"Change after hole {found.after_hole:,} of this batch (T2, in")
    assert (told_so.reason or "").startswith(f"Best changed after {found.change_at} holes. ")


def test_a_thin_log_says_nothing(sqlite_shop: Shop) -> None:
    """Nothing known: nothing to do, no figure."""
    fit_tap(sqlite_shop.work, "T1", "arm", "ada")
    page = at_station(sqlite_shop.work, "arm", "ada", "J1")
    assert page.tap is not None
    found = page.tap.outlook
    assert Decision(Action.NOT_KNOWN, 0, found.next_holes, None, None) == found.decision
    assert (None, None) == (found.risk, found.usual_risk)
