"""The rules by which a tap's log becomes lives and observations, one by one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.tap_lives import (
    Event,
    GaugeReading,
    Life,
    LifeConflict,
    LoggedRun,
    Movement,
    Observation,
    lives_of_tap,
)
from shopfloor.core.vocabulary import Mode, MovementKind, TapEnd, TapState

MILD_STEEL = CuttingConditions(1, 1, "6.3-10 m/min")
STAINLESS = CuttingConditions(1, 2, "4-6.3 m/min")
START = datetime(2026, 3, 2, 8, tzinfo=UTC)


def at(hour: int) -> datetime:
    """A moment of the story."""
    return START + timedelta(hours=hour)


def run(
    hour: int,
    holes: int,
    end: TapEnd = TapEnd.STILL_GOOD,
    *,
    broke_at: int | None = None,
    cutting: CuttingConditions = MILD_STEEL,
    slips: int | None = 0,
    station: int | None = 3,
) -> LoggedRun:
    """A run that ended at that hour."""
    return LoggedRun(at(hour), hour, cutting, holes, slips, end, broke_at, station)


def life(*events: Event, before: int | None = 0) -> Life:
    """The present life of a tap to which these events happened."""
    return lives_of_tap(before, 0, events)[-1]


def test_a_break_at_a_known_hole_is_exact() -> None:
    """'Broke at hole 37 of this batch, 410 before it' is an exact failure at 447."""
    broken = life(run(1, 410), run(2, 50, TapEnd.BROKEN, broke_at=37))
    assert Observation(0, 447, 447, Mode.BREAK) == broken.observation
    assert TapState.BROKEN is broken.state


def test_a_break_somewhere_in_a_batch_is_an_interval() -> None:
    """'Broke somewhere in this batch of 50, 410 before it' lies in (410, 460]."""
    assert Observation(0, 410, 460, Mode.BREAK) == life(run(1, 410), run(2, 50, TapEnd.BROKEN)).observation


def test_a_gauge_that_failed_bounds_the_wear() -> None:
    """'GO/NO-GO gauge passed at 300, failed at 350' is wear in (300, 350], whatever the operator thought between."""
    events = (run(1, 300), GaugeReading(at(2), True), run(3, 30), run(4, 20), GaugeReading(at(5), False))
    assert Observation(0, 300, 350, Mode.WEAR) == life(*events).observation


def test_a_gauge_that_failed_at_first_sight_bounds_nothing_below() -> None:
    """Without an earlier check the wear may have come at any hole so far."""
    assert Observation(0, 0, 350, Mode.WEAR) == life(run(1, 350), GaugeReading(at(2), False)).observation


def test_a_tap_in_service_is_censored() -> None:
    """'Still in service at 260' is right-censored at 260."""
    in_service = life(run(1, 200), run(2, 60))
    assert Observation(0, 260, None, None) == in_service.observation
    assert TapState.IN_SERVICE is in_service.state


@pytest.mark.parametrize("kind", [MovementKind.LOST, MovementKind.SCRAPPED, MovementKind.SENT_TO_REGRIND])
def test_a_tap_that_left_without_failing_is_censored(kind: MovementKind) -> None:
    """'Lost', or put away still good, is right-censored where its log ends."""
    gone = life(run(1, 400), Movement(at(2), kind))
    assert Observation(0, 400, None, None) == gone.observation
    assert gone.is_over


def test_a_tap_changed_on_purpose_is_censored() -> None:
    """'Changed on purpose at 400, still good' is right-censored at 400."""
    changed = life(run(1, 350), run(2, 50, TapEnd.RETIRED_EARLY))
    assert (Observation(0, 400, None, None), TapState.RETIRED_EARLY) == (changed.observation, changed.state)


def test_a_gauge_can_tell_that_a_tap_changed_in_time_was_worn() -> None:
    """The thread of a tap just changed fails the gauge: it was worn after all."""
    events = (run(1, 350, TapEnd.RETIRED_EARLY), GaugeReading(at(2), False))
    assert Observation(0, 0, 350, Mode.WEAR) == life(*events).observation


def test_holes_before_the_log_truncate() -> None:
    """'First logged when it already had about 150 holes, now broke at 380' is left-truncated at 150."""
    broken = life(run(1, 200), run(2, 30, TapEnd.BROKEN, broke_at=30), before=150)
    assert Observation(150, 380, 380, Mode.BREAK) == broken.observation
    assert (380, 230) == (broken.holes, broken.logged_holes)


def test_unknown_holes_before_make_a_life_unusable_but_keep_its_counts() -> None:
    """'Already used, nobody knows how much': no observation, but its slips and breaks still count."""
    broken = life(run(1, 80, slips=3), run(2, 20, TapEnd.BROKEN, broke_at=20), before=None)
    assert broken.observation is None
    assert (3, 1, 100) == (broken.cutting_slips, broken.stretches[0].breaks, broken.stretches[0].holes)


def test_a_life_over_two_conditions_is_split_where_they_change() -> None:
    """'200 holes in mild steel, then 90 in stainless, broke': survived 200 in one, entered the other at 200."""
    broken = life(run(1, 200), run(2, 90, TapEnd.BROKEN, broke_at=90, cutting=STAINLESS))
    assert Observation(0, 290, 290, Mode.BREAK) == broken.observation
    steel, stainless = broken.stretches
    assert Observation(0, 200, None, None) == steel.observation
    assert Observation(200, 290, 290, Mode.BREAK) == stainless.observation


def test_a_wear_interval_that_reaches_back_over_a_change_keeps_both_shares_consistent() -> None:
    """The share before the change is survived only up to the last hole known to be good."""
    events = (
        run(1, 100),
        GaugeReading(at(2), True),
        run(3, 50),
        run(4, 40, cutting=STAINLESS),
        GaugeReading(at(5), False),
    )
    steel, stainless = life(*events).stretches
    assert Observation(0, 100, None, None) == steel.observation
    assert Observation(100, 100, 190, Mode.WEAR) == stainless.observation


@pytest.mark.parametrize("end", [TapEnd.WORN, TapEnd.CHIPPED])
def test_worn_and_chipped_are_wear_somewhere_in_the_last_run(end: TapEnd) -> None:
    """The tap was still good before the run in which it was found worn or chipped."""
    assert Observation(0, 300, 350, Mode.WEAR) == life(run(1, 300), run(2, 50, end)).observation


def test_a_regrind_starts_a_new_life() -> None:
    """A worn tap comes back with one more regrind and no holes."""
    first, second = lives_of_tap(0, 0, [run(1, 300, TapEnd.WORN), Movement(at(2), MovementKind.REGROUND), run(3, 40)])
    assert (0, TapState.WORN, 300) == (first.number, first.state, first.holes)
    assert (1, TapState.IN_SERVICE, 40) == (second.number, second.state, second.holes)
    assert Observation(0, 40, None, None) == second.observation


def test_a_broken_tap_is_never_reground() -> None:
    """The record would contradict itself."""
    with pytest.raises(LifeConflict, match="broken tap cannot be reground"):
        lives_of_tap(0, 0, [run(1, 5, TapEnd.BROKEN), Movement(at(2), MovementKind.REGROUND)])


def test_no_run_after_the_end() -> None:
    """The message says how the life ended, and the conflict names the run."""
    late = run(3, 10)
    with pytest.raises(LifeConflict, match="broken before this run") as caught:
        lives_of_tap(0, 0, [run(1, 5, TapEnd.BROKEN), late])
    assert late == caught.value.event


def test_order_of_arrival_does_not_matter() -> None:
    """A batch that a tablet hands in late takes its place by its own time."""
    events: list[Event] = [run(1, 100), run(2, 50), run(3, 25, TapEnd.BROKEN, broke_at=25)]
    assert lives_of_tap(0, 0, events) == lives_of_tap(0, 0, reversed(events))


def test_a_fresh_tap_tells_nothing_yet() -> None:
    """No holes, no observation."""
    assert (TapState.UNUSED, None, 0) == (life().state, life().observation, life().holes)


def test_slips_not_recorded_are_no_exposure() -> None:
    """Holes of runs that said nothing of slips do not dilute the slip rate."""
    (stretch,) = life(run(1, 100, slips=2), run(2, 50, slips=None)).stretches
    assert (2, 100, 150) == (stretch.cutting_slips, stretch.slip_holes, stretch.holes)


def test_a_tap_is_where_it_was_last_put() -> None:
    """Issue, run and return tell the station; the end of its life takes it away."""
    issued = Movement(at(1), MovementKind.ISSUED, 4)
    assert (4, at(1)) == (life(issued).station, life(issued).placed_at)
    assert 3 == life(issued, run(2, 10)).station
    assert life(issued, run(2, 10), Movement(at(3), MovementKind.RETURNED, 3)).station is None
    assert life(issued, run(2, 10, TapEnd.WORN)).station is None
