"""What the truth does shows in the log: pooled over six histories, each cause is seen above chance."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import pytest

from seed.life import poisson
from seed.rows import Run, Tap
from seed.shop import AIR, ALUMINIUM, ARM_1, ARM_2, BAD_LOT, BAD_LOT_TYPE, CENTRE, PRESS, STAINLESS, STRUCTURAL
from seed.simulate import Scenario
from seed.truth import Truth
from shopfloor.core.vocabulary import DepthControl, HoleMaking, MovementKind, TapEnd
from tests.seed.conftest import seeded

ONE_IN_A_HUNDRED = 2.33
"""Standard deviations that chance exceeds once in a hundred times."""
SAME_WORK_ON_BOTH_ARMS = {("J-1001", 300), ("J-1002", 180), ("J-1014", 280), ("J-1015", 200), ("J-1017", 180)}


@dataclass(frozen=True)
class Tally:
    """Holes, breaks and cutting slips of some runs."""

    holes: int
    breaks: int
    slips: int

    @property
    def slips_per_hole(self) -> float:
        """Cutting slips per hole."""
        return self.slips / self.holes


def tally(runs: Iterable[Run]) -> Tally:
    """Adds up runs."""
    found = list(runs)
    return Tally(
        sum(run.holes for run in found),
        sum(run.tap_end is TapEnd.BROKEN for run in found),
        sum(run.cutting_slips for run in found),
    )


def break_more(*pairs: tuple[Tally, Tally]) -> bool:
    """Whether the first of each pair break more than the second, beyond chance: breaks split by holes, pair by pair.

    Given a pair's breaks, those of the first are binomial with its share of the holes where both break alike; their
    sum over the pairs is set against its mean and variance (stratified comparison of Poisson rates).
    """
    excess = variance = 0.0
    for more, less in pairs:
        breaks, share = more.breaks + less.breaks, more.holes / (more.holes + less.holes)
        excess += more.breaks - breaks * share
        variance += breaks * share * (1 - share)
    return excess > ONE_IN_A_HUNDRED * math.sqrt(variance)


def each(many: tuple[Scenario, ...]) -> Iterator[tuple[Run, Tap]]:
    """Each standing run of all histories with its tap."""
    for log in many:
        taps = {tap.code: tap for tap in log.taps}
        yield from ((run, taps[run.tap]) for run in log.standing_runs())


def at(many: tuple[Scenario, ...], job: str, station: str, rpm: int) -> Tally:
    """What one job came to at one station and speed."""
    wanted = (job, station, rpm)
    return tally(run for run, _ in each(many) if (run.job, run.station, run.rpm) == wanted)


def test_the_misaligned_arm_breaks_more_taps(many: tuple[Scenario, ...]) -> None:
    """On the same jobs at the same speeds, arm 2 breaks more taps than arm 1."""
    assert break_more(*((at(many, job, ARM_2, rpm), at(many, job, ARM_1, rpm)) for job, rpm in SAME_WORK_ON_BOTH_ARMS))


def test_the_bad_lot_breaks_more(many: tuple[Scenario, ...]) -> None:
    """Taps of the bad lot break more often than others of their type."""
    runs = [(run, tap.lot == BAD_LOT) for run, tap in each(many) if tap.tap_type == BAD_LOT_TYPE]
    lots = [tally(run for run, is_bad in runs if is_bad == wanted) for wanted in (True, False)]
    assert break_more((lots[0], lots[1]))


def test_every_history_has_taps_of_the_bad_lot(many: tuple[Scenario, ...]) -> None:
    """Enough of them to be found out."""
    assert min(sum(tap.lot == BAD_LOT for tap in log.taps) for log in many) >= 15


def test_laser_cut_holes_break_and_slip_more(many: tuple[Scenario, ...]) -> None:
    """The same tap in the same steel at the same speed suffers from the hard edge."""
    pairs = [
        (at(many, "J-1003", station, rpm), at(many, "J-1002", station, rpm))
        for station, rpm in ((ARM_1, 180), (AIR, 350))
    ]
    assert break_more(*pairs)
    assert all(laser.slips_per_hole > 1.5 * drilled.slips_per_hole for laser, drilled in pairs)


def test_stainless_breaks_more_than_steel_and_steel_more_than_aluminium(many: tuple[Scenario, ...]) -> None:
    """Break rates differ clearly by material."""
    runs = [run for run, _ in each(many)]
    rates = [tally(run for run in runs if run.material == material) for material in (STAINLESS, STRUCTURAL, ALUMINIUM)]
    assert break_more((rates[0], rates[1]))
    assert break_more((rates[1], rates[2]))


def test_fast_work_breaks_more_than_slow(many: tuple[Scenario, ...]) -> None:
    """The same job's taps break more at the faster of two stations, away from the misaligned arm."""
    assert break_more(
        (at(many, "J-1001", PRESS, 480), at(many, "J-1001", ARM_1, 300)),
        (at(many, "J-1002", AIR, 350), at(many, "J-1002", ARM_1, 180)),
        (at(many, "J-1014", CENTRE, 450), at(many, "J-1014", ARM_1, 180)),
    )


def test_reground_taps_live_shorter(many: tuple[Scenario, ...]) -> None:
    """After a regrind, taps fail more often per hole in the same material."""
    counts = {True: [0, 0], False: [0, 0]}
    for log in many:
        back = {row.tap: row.moved_at for row in log.movements if row.kind is MovementKind.REGROUND}
        for run in log.standing_runs():
            if run.material == STRUCTURAL and run.tap in back:
                count = counts[run.ended_at > back[run.tap]]
                count[0] += run.holes
                count[1] += run.tap_end in (TapEnd.BROKEN, TapEnd.WORN, TapEnd.CHIPPED)
    after, before = (Tally(holes, failures, 0) for holes, failures in (counts[True], counts[False]))
    assert break_more((after, before))


def test_slips_rise_before_the_end(many: tuple[Scenario, ...]) -> None:
    """Of taps that failed, the last two runs slip at least twice as often per hole as the first two."""
    first: list[Run] = []
    last: list[Run] = []
    for log in many:
        for runs in runs_by_tap(log).values():
            if len(runs) >= 4 and runs[-1].tap_end in (TapEnd.BROKEN, TapEnd.WORN):
                first += runs[:2]
                last += runs[-2:]
    assert tally(last).slips_per_hole > 2 * tally(first).slips_per_hole


def runs_by_tap(log: Scenario) -> dict[str, list[Run]]:
    """Each tap's standing runs in order."""
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in log.standing_runs():
        runs[run.tap].append(run)
    return runs


def test_bottoming_slips_are_not_logged_as_cutting_slips(many: tuple[Scenario, ...]) -> None:
    """Where the clutch ends each hole it slips about once a hole, and the log does not hold that."""
    clutch = tally(run for run, _ in each(many) if run.depth_control is DepthControl.CLUTCH)
    assert 1 == Truth().bottoming_slips_per_hole
    assert clutch.slips_per_hole < 0.1


def test_the_clutch_ends_only_blind_holes(scenario: Scenario) -> None:
    """A through hole has no bottom to drive against."""
    blind = {job.code for job in scenario.jobs if job.is_blind}
    assert {run.job for run in scenario.runs if run.depth_control is DepthControl.CLUTCH} <= blind


def test_the_uncounted_station_rarely_knows_the_break_hole(many: tuple[Scenario, ...]) -> None:
    """The air arm has no counter: most of its breaks have no hole, elsewhere few."""
    broken = [run for log in many for run in log.runs if run.tap_end is TapEnd.BROKEN]
    at_air = [run.broke_at_hole is None for run in broken if run.station == AIR]
    elsewhere = [run.broke_at_hole is None for run in broken if run.station != AIR]
    assert sum(at_air) / len(at_air) > 0.4
    assert sum(elsewhere) / len(elsewhere) < 0.1


def test_some_holes_are_laser_cut_and_some_punched(scenario: Scenario) -> None:
    """Holes are made in several ways."""
    assert {HoleMaking.LASER, HoleMaking.PUNCHED, HoleMaking.CAST} < {job.hole_making for job in scenario.jobs}


@pytest.mark.parametrize("mean", [0.0, 0.3, 4.0, 60.0])
def test_poisson_counts_have_the_mean_and_variance_of_their_law(mean: float) -> None:
    """Both equal the parameter, within four standard errors of 4,000 draws."""
    rng, many_draws = seeded(8), 4000
    draws = [poisson(rng, mean) for _ in range(many_draws)]
    average = sum(draws) / many_draws
    variance = sum((draw - average) ** 2 for draw in draws) / many_draws
    assert mean == pytest.approx(average, abs=4 * (mean / many_draws) ** 0.5)
    assert mean == pytest.approx(variance, rel=0.15)
