"""Advice from the log: what it rests on, when it leans on wider groups, and what it costs."""

from __future__ import annotations

import pytest

from shopfloor.core.fit import WeibullFit
from shopfloor.core.vocabulary import Mode, TapEnd
from shopfloor.services.advice import Advice, LifeBook
from shopfloor.services.batches import log_run
from shopfloor.services.codes import find_in
from shopfloor.services.taps import receive_tap
from shopfloor.store import Material, TapType
from shopfloor.store.queries.lives import Situation
from tests.factories import Shop

BAND = "6.3-10 m/min"
"""M8 at 250 rpm turns at 6.28 m/min; 300 rpm gives 7.5."""


def lives(shop: Shop, *ages: int, end: TapEnd = TapEnd.BROKEN, job: str = "J1", rpm: int = 300) -> None:
    """Log one fresh M8 tap for each age, ended at that hole."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        exact = age if end is TapEnd.BROKEN else None
        log_run(shop.work, shop.entry(tap=tap, holes=age, tap_end=end, broke_at_hole=exact, job=job, rpm=rpm))
        shop.clock.move(minutes=30)


def situation(shop: Shop, material: str = "steel", band: str | None = BAND) -> Situation:
    """M8 taps in that material at that speed."""
    with shop.work.read() as session:
        kind, stuff = find_in(session, TapType, "M8 SP"), find_in(session, Material, material)
        assert kind is not None
        assert stuff is not None
        return Situation(kind.id, stuff.id, band)


def advice(shop: Shop, wanted: Situation) -> Advice:
    """What the pages would say."""
    with shop.work.read() as session:
        return LifeBook.open(shop.work, session).advice(wanted)


def test_a_group_with_enough_failures_stands_alone(sqlite_shop: Shop) -> None:
    """Three failures at this speed: the answer rests on them."""
    lives(sqlite_shop, 300, 350, 420)
    found = advice(sqlite_shop, situation(sqlite_shop))
    assert found.group is not None
    assert ("at this speed", 3, 3, 1070) == (
        found.reach,
        found.group.evidence.taps,
        found.group.evidence.failures,
        found.group.evidence.holes,
    )
    assert found.change_at is not None
    assert 0 < found.change_at < 350


def test_a_thin_group_leans_on_other_speeds_then_other_materials(sqlite_shop: Shop) -> None:
    """The answer says how far it had to reach."""
    lives(sqlite_shop, 300, 350, 420, rpm=500)
    lives(sqlite_shop, 310)
    assert "at any speed" == advice(sqlite_shop, situation(sqlite_shop)).reach
    assert "in any material" == advice(sqlite_shop, situation(sqlite_shop, "stainless")).reach


def test_two_failures_suggest_no_change(sqlite_shop: Shop) -> None:
    """The same bar that calls a group thin keeps the advice from promising a saving."""
    lives(sqlite_shop, 300, 310)
    found = advice(sqlite_shop, situation(sqlite_shop))
    assert found.replacement is not None
    assert (None, None) == (found.change_at, found.saving)
    assert "Too few failures (2) to say whether changing in time saves" == found.replacement.reason


def test_no_failure_gives_a_bound(sqlite_shop: Shop) -> None:
    """Zero failures: no estimate, no change suggested, but an upper bound of the risk."""
    lives(sqlite_shop, 300, 400, end=TapEnd.RETIRED_EARLY)
    found = advice(sqlite_shop, situation(sqlite_shop))
    risk = found.break_risk(100, 50)
    assert found.change_at is None
    assert risk is not None
    assert risk.value is None
    assert 0 < risk.upper < 1


def test_an_empty_log_gives_no_group(sqlite_shop: Shop) -> None:
    """Nothing known is said as such."""
    found = advice(sqlite_shop, situation(sqlite_shop))
    assert (None, None, None) == (found.group, found.change_at, found.break_risk(0, 50))


def test_unknown_holes_give_no_risk(sqlite_shop: Shop) -> None:
    """Where nobody knows how many holes a tap had, nobody can tell."""
    lives(sqlite_shop, 300, 350, 420)
    assert advice(sqlite_shop, situation(sqlite_shop)).break_risk(None, 50) is None


def test_break_and_wear_compete(sqlite_shop: Shop) -> None:
    """A tap worn at 300 had not broken by then: it counts as survived for breaks."""
    lives(sqlite_shop, 300, 350, 420)
    lives(sqlite_shop, 380, 500, end=TapEnd.WORN)
    group = advice(sqlite_shop, situation(sqlite_shop)).group
    assert group is not None
    assert (3, 2) == (group.failures_by(Mode.BREAK), group.failures_by(Mode.WEAR))
    assert (5, 5) == (group.breaking.evidence.taps, group.modes[Mode.WEAR.value].evidence.taps)
    assert isinstance(group.breaking, WeibullFit)


def test_costs_follow_the_modes_seen(sqlite_shop: Shop) -> None:
    """A change costs the tap and the minutes; a failure also what its mode costs, by how often each was seen."""
    lives(sqlite_shop, 300, 350, 420)
    lives(sqlite_shop, 380, end=TapEnd.WORN)
    found, settings = advice(sqlite_shop, situation(sqlite_shop)), sqlite_shop.work.settings
    assert 18 + settings.change_cost == found.cost_planned
    extra = 0.75 * settings.break_cost + 0.25 * settings.wear_cost
    assert found.cost_planned + extra == pytest.approx(found.cost_failure)


def test_stretches_of_one_life_join_where_conditions_are_taken_together(sqlite_shop: Shop) -> None:
    """A tap that changed speed is one tap in the wider group, with one failure and all its holes."""
    tap = receive_tap(sqlite_shop.work, None, "M8 SP", "bo")
    for rpm, end in ((300, TapEnd.STILL_GOOD), (500, TapEnd.STILL_GOOD), (300, TapEnd.BROKEN)):
        sqlite_shop.clock.move(minutes=30)
        log_run(sqlite_shop.work, sqlite_shop.entry(tap=tap, holes=100, rpm=rpm, tap_end=end))
    with sqlite_shop.work.read() as session:
        group = LifeBook.open(sqlite_shop.work, session).group(situation(sqlite_shop, band=None))
    assert group is not None
    assert (1, 1, 300, 1) == (group.evidence.taps, group.evidence.failures, group.evidence.holes, len(group.lives))
