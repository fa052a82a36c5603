"""The warning at the station: a tap whose cutting slips rise, never one whose clutch ends the hole."""

from __future__ import annotations

from typing import Any

import pytest

from shopfloor.core.floor.slip_cusum import SlipWatch
from shopfloor.core.vocabulary import DepthControl
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.page import at_station
from tests.factories import Shop
from tests.services.conftest import ON_BOTH


def log(shop: Shop, slips: list[int], **fields: Any) -> None:
    """Log a run of 50 holes for each number of slips."""
    for number in slips:
        shop.clock.move(minutes=1)
        log_run(shop.work, shop.entry(holes=50, cutting_slips=number, **fields))


def watched(shop: Shop) -> SlipWatch | None:
    """What the station page says of T1."""
    tap = at_station(shop.work, "arm", "ada", "J1").tap
    assert tap is not None
    assert "T1" == tap.code
    return tap.slips


@pytest.fixture
def fitted(shop: Shop) -> Shop:
    """T2 has slipped once in 50 holes, a dozen times; T1 is in the station."""
    log(shop, [1] * 12, tap="T2")
    shop.clock.move(minutes=1)
    fit_tap(shop.work, "T1", "arm", "ada")
    return shop


def test_a_tap_that_slips_like_its_peers_is_quiet(fitted: Shop) -> None:
    """One slip in 50 holes is usual here."""
    log(fitted, [1, 1, 0, 2], tap="T1")
    found = watched(fitted)
    assert found is not None
    assert not found.alarms


@ON_BOTH
def test_a_rise_alarms_with_its_figures(fitted: Shop) -> None:
    """Fifteen slips in 150 holes, where three are usual."""
    log(fitted, [0, 5, 4, 6], tap="T1")
    found = watched(fitted)
    assert found is not None
    assert (True, 15, 150) == (found.alarms, found.slips, found.holes)


def test_bottoming_slips_never_alarm(fitted: Shop) -> None:
    """With the clutch at the bottom of the hole it slips once a hole, whoever entered that as cutting slips."""
    log(fitted, [50] * 5, tap="T1", depth_control=DepthControl.CLUTCH)
    assert watched(fitted) is None


def test_other_conditions_say_nothing(fitted: Shop) -> None:
    """At another speed other slips are usual."""
    log(fitted, [9] * 3, tap="T1", rpm=50)
    log(fitted, [1], tap="T1")
    found = watched(fitted)
    assert found is not None
    assert not found.alarms
