"""Advice from the log: what it rests on, how much it leans on like taps, and what it costs."""

from __future__ import annotations

from shopfloor.core.decision.replacement_age import Costs
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.vocabulary import Mode, TapEnd
from shopfloor.core.weibull_fit.fit import WeibullFit
from shopfloor.services.advice.life_book import Advice, LifeBook
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import log_run, undo_run
from shopfloor.store import Material, TapType
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


def cutting(shop: Shop, material: str = "steel", band: str | None = BAND) -> CuttingConditions:
    """M8 taps in that material at that speed."""
    with shop.work.read() as session:
        kind, stuff = find_in(session, TapType, "M8 SP"), find_in(session, Material, material)
        assert kind is not None
        assert stuff is not None
        return CuttingConditions(kind.id, stuff.id, band)


def advice(shop: Shop, wanted: CuttingConditions) -> Advice:
    """What the pages would say."""
    with shop.work.read() as session:
        return LifeBook.open(shop.work, session).advice(wanted)


def test_a_group_with_failures_of_its_own_rests_on_them(sqlite_shop: Shop) -> None:
    """Twelve failures at this speed: the answer rests on them more than on anything else."""
    lives(sqlite_shop, *range(300, 420, 10))
    found = advice(sqlite_shop, cutting(sqlite_shop))
    assert (12, 12, 12) == (found.evidence.taps, found.evidence.failures, found.breaks)
    assert found.shrinkage < 0.35
    assert found.change_at is not None
    assert 100 < found.change_at < 350


def test_a_thin_group_leans_on_like_taps(sqlite_shop: Shop) -> None:
    """The fewer lives of its own, the more comes from others: other speeds first, then other materials."""
    lives(sqlite_shop, 300, 350, 420, 300, 360, rpm=500)
    lives(sqlite_shop, 310)
    own, faster, other = (
        advice(sqlite_shop, cutting(sqlite_shop, material, band)).shrinkage
        for material, band in (("steel", BAND), ("steel", "10-16 m/min"), ("stainless", BAND))
    )
    assert faster < own < other == 1


def test_a_group_without_a_life_has_a_wide_answer(sqlite_shop: Shop) -> None:
    """Stainless was never tapped: its answer comes from steel, shorter and less sure."""
    lives(sqlite_shop, *range(300, 420, 10))
    known, unseen = (advice(sqlite_shop, cutting(sqlite_shop, m)).break_risk(0, 100) for m in ("steel", "stainless"))
    assert known is not None
    assert unseen is not None
    assert known.value is not None
    assert unseen.value is not None
    assert known.value < unseen.value
    assert known.upper / known.lower < unseen.upper / unseen.lower


def test_two_failures_suggest_no_change(sqlite_shop: Shop) -> None:
    """Two failures in the whole log promise no saving; what to begin with is said to come from what is usual."""
    lives(sqlite_shop, 300, 310)
    found = advice(sqlite_shop, cutting(sqlite_shop))
    assert (None, None, None) == (found.change_at, found.saving, found.change)
    assert found.start is not None
    assert found.start.age is not None
    assert found.start.gain == "start"
    assert (
        f"""Too few failures in the log (2) to say whether changing in time saves; 3 would be enough. A careful \
start from what is usual: change at about {found.start.age:.0f} holes"""
        == found.reason
    )


def test_an_empty_log_gives_no_advice(sqlite_shop: Shop) -> None:
    """Nothing known is said as such."""
    found = advice(sqlite_shop, cutting(sqlite_shop))
    assert (0, None, None) == (found.evidence.taps, found.change_at, found.break_risk(0, 50))


def test_the_same_log_gives_the_same_answer(sqlite_shop: Shop) -> None:
    """Asked before and after another run was logged and taken back, the figures are the same."""
    lives(sqlite_shop, 300, 350, 420, 280)
    before = advice(sqlite_shop, cutting(sqlite_shop))
    run = log_run(sqlite_shop.work, sqlite_shop.entry(tap="T2", holes=700))
    assert before.change != advice(sqlite_shop, cutting(sqlite_shop)).change
    undo_run(sqlite_shop.work, run.run_id)
    assert before.change == advice(sqlite_shop, cutting(sqlite_shop)).change


def test_unknown_holes_give_no_risk(sqlite_shop: Shop) -> None:
    """Where nobody knows how many holes a tap had, nobody can tell."""
    lives(sqlite_shop, 300, 350, 420)
    assert advice(sqlite_shop, cutting(sqlite_shop)).break_risk(None, 50) is None


def test_break_and_wear_compete(sqlite_shop: Shop) -> None:
    """A tap worn at 300 had not broken by then: it counts as survived for breaks."""
    lives(sqlite_shop, 300, 350, 420)
    lives(sqlite_shop, 380, 500, end=TapEnd.WORN)
    with sqlite_shop.work.read() as session:
        group = LifeBook.open(sqlite_shop.work, session).group(cutting(sqlite_shop))
    assert group is not None
    breaking, wear = (group.modes[mode.value] for mode in (Mode.BREAK, Mode.WEAR))
    assert [(5, 3), (5, 2)] == [(fit.evidence.taps, fit.evidence.failures) for fit in (breaking, wear)]
    assert isinstance(breaking, WeibullFit)


def test_each_mode_has_its_cost(sqlite_shop: Shop) -> None:
    """A change costs the tap and the minutes, a stop for it as many; a break and a worn tap what each costs beyond."""
    found, settings = advice(sqlite_shop, cutting(sqlite_shop)), sqlite_shop.work.settings
    planned = 18 + settings.change_cost
    failure = planned + settings.break_cost, planned + settings.wear_cost
    assert Costs(planned, failure, settings.change_cost) == found.costs


def test_stretches_of_one_life_join_where_conditions_are_taken_together(sqlite_shop: Shop) -> None:
    """A tap that changed speed is one tap in the wider group, with one failure and all its holes."""
    tap = receive_tap(sqlite_shop.work, None, "M8 SP", "bo")
    for rpm, end in ((300, TapEnd.STILL_GOOD), (500, TapEnd.STILL_GOOD), (300, TapEnd.BROKEN)):
        sqlite_shop.clock.move(minutes=30)
        log_run(sqlite_shop.work, sqlite_shop.entry(tap=tap, holes=100, rpm=rpm, tap_end=end))
    with sqlite_shop.work.read() as session:
        group = LifeBook.open(sqlite_shop.work, session).group(cutting(sqlite_shop, band=None))
    assert group is not None
    assert (1, 1, 300, 1) == (group.evidence.taps, group.evidence.failures, group.evidence.holes, len(group.lives))
