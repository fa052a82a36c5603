"""The simulated log as a whole: the same for a seed, moved with the date, as large as promised."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from seed.rows import Run
from seed.shop import TAP_TYPE
from seed.simulate import DEFAULT_ZONE, Scenario, simulate
from seed.truth import Truth
from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import speed_band
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import DepthControl, GaugeResult, HoleMaking, MovementKind, TapEnd
from tests.seed.conftest import TODAY

OTHER_DAYS = {
    "Sunday": datetime(2027, 2, 28, 12, tzinfo=UTC),
    "New Year, long after the shift": datetime(2026, 1, 1, 3, tzinfo=UTC),
    "just before the shift": datetime(2026, 6, 10, 10, 59, tzinfo=UTC),
    "the day the clocks change": datetime(2026, 3, 8, 18, tzinfo=UTC),
    "leap day": datetime(2028, 2, 29, 16, tzinfo=UTC),
}


def without_times(run: Run) -> Run:
    """A run with its three times blotted out."""
    return replace(run, ended_at=TODAY, recorded_at=TODAY, device_time="")


def test_a_seed_gives_one_history(scenario: Scenario) -> None:
    """Simulating again changes nothing, to the last row."""
    assert scenario == simulate(TODAY)


def test_another_seed_gives_another_history(scenario: Scenario, many: tuple[Scenario, ...]) -> None:
    """The seed matters."""
    assert scenario.runs != many[0].runs


@pytest.mark.parametrize("today", OTHER_DAYS.values(), ids=OTHER_DAYS)
def test_another_date_moves_the_same_history(scenario: Scenario, today: datetime) -> None:
    """Whatever the date, the runs are the same, and none lies in the future."""
    moved = simulate(today)
    assert [*map(without_times, scenario.runs)] == [*map(without_times, moved.runs)]
    assert today >= latest(moved)


def test_another_zone_moves_the_shifts() -> None:
    """The shop's time zone decides when it works."""
    zone = ZoneInfo("Europe/Berlin")
    hours = {run.ended_at.astimezone(zone).hour for run in simulate(TODAY, zone=zone).runs}
    assert {*range(7, 15)} == hours


def test_a_date_without_a_zone_is_refused() -> None:
    """A naive time would mean something else on each machine."""
    with pytest.raises(InputError, match="today"):
        simulate(datetime(2026, 11, 25, 12))


def test_a_short_log_can_be_made() -> None:
    """Two months of work hold about a ninth of the runs."""
    assert 350 < len(simulate(TODAY, months=2).runs) < 550


def test_the_log_is_as_large_as_promised(many: tuple[Scenario, ...]) -> None:
    """About 4,000 runs over 18 months of weekdays, up to about an hour before today."""
    for log in many:
        assert 3_700 < len(log.runs) < 4_300
        first, last = log.runs[0].ended_at, log.runs[-1].ended_at
        assert 17 * 30 < (last - first).days < 19 * 31
        assert timedelta(minutes=30) < TODAY - last < timedelta(minutes=90)


def test_people_work_in_the_day_shift(scenario: Scenario) -> None:
    """Weekdays from 7:00 to 15:00, give or take the end of the last batch."""
    local = [run.ended_at.astimezone(DEFAULT_ZONE) for run in scenario.runs]
    assert {0, 1, 2, 3, 4} == {time.weekday() for time in local}
    assert {*range(7, 15)} == {time.hour for time in local}


def test_taps_end_in_every_way_the_words_know(many: tuple[Scenario, ...]) -> None:
    """Every history holds breaks and wear by the hundred, and some of everything else."""
    for log in many:
        ends = Counter(run.tap_end for run in log.standing_runs())
        assert 120 < ends[TapEnd.BROKEN] < 230
        assert 180 < ends[TapEnd.WORN] + ends[TapEnd.CHIPPED] + worn_by_the_gauge_alone(log) < 340
        assert min(ends[TapEnd.CHIPPED], ends[TapEnd.RETIRED_EARLY]) > 15
        assert 2 < sum(movement.kind is MovementKind.LOST for movement in log.movements) < 25


def test_groups_range_from_lively_to_thin(many: tuple[Scenario, ...]) -> None:
    """Of the groups by tap type, material and speed band, many have 8 failures or more and many 3 or fewer."""
    for log in many:
        failures = failures_by_group(log)
        assert sum(number >= 8 for number in failures.values()) >= 12
        assert sum(number <= 3 for number in failures.values()) >= 15


def test_most_taps_keep_to_one_work(many: tuple[Scenario, ...]) -> None:
    """Some lives are spent on two materials, most on one."""
    for log in many:
        works = Counter(len(materials) for materials in materials_by_tap(log).values())
        assert 0.03 < 1 - works[1] / works.total() < 0.25


def test_some_taps_were_used_before_they_were_seen(many: tuple[Scenario, ...]) -> None:
    """Some came with a number of holes, some with a past that nobody knows."""
    before = [tap.holes_before for log in many for tap in log.taps]
    assert 6 <= sum(holes is None for holes in before) < len(before) * 0.1
    assert 6 <= sum(bool(holes) for holes in before) < len(before) * 0.1


def test_jobs_are_past_open_and_planned(scenario: Scenario) -> None:
    """The demand of the coming weeks comes from open jobs with and without runs."""
    run = {row.job for row in scenario.runs}
    today_on = date(2026, 11, 25)
    assert 25 <= len(scenario.jobs) <= 40
    assert all(job.due_on > today_on for job in scenario.jobs if job.is_open)
    assert all(job.due_on < today_on and job.code in run for job in scenario.jobs if not job.is_open)
    assert 5 <= sum(job.code not in run for job in scenario.jobs)
    assert any(job.hole_making is HoleMaking.LASER for job in scenario.jobs)


def test_open_jobs_are_planned_beyond_what_is_made(scenario: Scenario) -> None:
    """Parts are still to come: the planned quantity lies above the parts whose holes are logged."""
    made = Counter[str]()
    for run in scenario.standing_runs():
        made[run.job] += run.holes
    open_jobs = [job for job in scenario.jobs if job.is_open]
    assert all(job.planned_quantity * job.holes_per_part > made[job.code] for job in open_jobs)


def test_a_job_at_a_station_keeps_to_one_speed_band(scenario: Scenario) -> None:
    """Apart from the pump cover, which arm 1 runs at two speeds, a station runs a job in one band."""
    bands: dict[tuple[str, str], set[str]] = {}
    kinds = {tap.code: TAP_TYPE[tap.tap_type] for tap in scenario.taps}
    for run in scenario.standing_runs():
        band = speed_band(run.rpm, major_diameter_mm(kinds[run.tap].thread)).label
        bands.setdefault((run.job, run.station), set()).add(band)
    assert {("J-1014", "arm-1")} == {key for key, found in bands.items() if len(found) > 1}


def test_corrections_put_right_what_was_mistyped(scenario: Scenario) -> None:
    """A corrected run keeps its batch and tap, has an id of its own, and stands in place of the first."""
    first = {run.id: run for run in scenario.runs}
    standing = {run.id for run in scenario.standing_runs()}
    assert 10 <= len(scenario.corrections) <= 20
    for row in scenario.corrections:
        wrong, right = first[row.run_id], row.corrected
        assert (wrong.batch_id, wrong.tap, wrong.ended_at) == (right.batch_id, right.tap, right.ended_at)
        assert wrong.id not in standing
        assert right.id in standing
        assert row.at > wrong.recorded_at


def test_a_zero_too_many_is_among_the_mistakes(scenario: Scenario) -> None:
    """480 typed for 48."""
    first = {run.id: run for run in scenario.runs}
    assert 6 == sum(first[row.run_id].holes == 10 * row.corrected.holes for row in scenario.corrections)


def test_cancelled_runs_are_second_entries(scenario: Scenario) -> None:
    """Each cancelled run has a twin that stands."""
    cancelled = {row.run_id for row in scenario.cancellations}
    standing = {(run.batch_id, run.tap, run.holes) for run in scenario.standing_runs()}
    twins = [run for run in scenario.runs if run.id in cancelled]
    assert 6 == len(twins)
    assert all((twin.batch_id, twin.tap, twin.holes) in standing for twin in twins)


def test_tables_are_in_order_of_time(scenario: Scenario) -> None:
    """Every table of events reads from first to last."""
    for times in (
        [run.ended_at for run in scenario.runs],
        [check.checked_at for check in scenario.gauge_checks],
        [incident.reported_at for incident in scenario.incidents],
        [movement.moved_at for movement in scenario.movements],
    ):
        assert all(a <= b for a, b in pairwise(times))


def latest(log: Scenario) -> datetime:
    """The latest time in the log."""
    return max(
        *(run.recorded_at for run in log.runs),
        *(check.checked_at for check in log.gauge_checks),
        *(incident.reported_at for incident in log.incidents),
        *(movement.moved_at for movement in log.movements),
        *(correction.at for correction in log.corrections),
        *(cancellation.at for cancellation in log.cancellations),
    )


def worn_by_the_gauge_alone(log: Scenario) -> int:
    """Failed checks of taps whose last run before was logged as still good."""
    events: list[tuple[datetime, str, TapEnd | None]] = [
        *((run.ended_at, run.tap, run.tap_end) for run in log.standing_runs()),
        *((check.checked_at, check.tap, None) for check in log.gauge_checks if check.result is GaugeResult.FAILED),
    ]
    last: dict[str, TapEnd | None] = {}
    found = 0
    for _, tap, tap_end in sorted(events, key=lambda event: event[0]):
        found += tap_end is None and last[tap] is TapEnd.STILL_GOOD
        last[tap] = tap_end
    return found


def failures_by_group(log: Scenario) -> dict[tuple[str, str, str], int]:
    """Logged failures by tap type, material and speed band; groups without any count 0."""
    kinds = {tap.code: TAP_TYPE[tap.tap_type] for tap in log.taps}
    failures: dict[tuple[str, str, str], int] = {}
    for run in log.standing_runs():
        kind = kinds[run.tap]
        group = (kind.code, run.material, speed_band(run.rpm, major_diameter_mm(kind.thread)).label)
        failed = run.tap_end in (TapEnd.BROKEN, TapEnd.WORN, TapEnd.CHIPPED)
        failures[group] = failures.get(group, 0) + failed
    return failures


def materials_by_tap(log: Scenario) -> dict[str, set[str]]:
    """Which materials each tap has cut."""
    materials: dict[str, set[str]] = {}
    for run in log.standing_runs():
        materials.setdefault(run.tap, set()).add(run.material)
    return materials


def test_bottoming_slips_are_not_logged_as_cutting_slips(many: tuple[Scenario, ...]) -> None:
    """Where the clutch ends each hole it slips about once a hole, and the log does not hold that."""
    runs = [run for log in many for run in log.standing_runs() if run.depth_control is DepthControl.CLUTCH]
    assert 1 == Truth().bottoming_slips_per_hole
    assert sum(run.cutting_slips for run in runs) < 0.1 * sum(run.holes for run in runs)


def test_the_clutch_ends_only_blind_holes(scenario: Scenario) -> None:
    """A through hole has no bottom to drive against."""
    blind = {job.code for job in scenario.jobs if job.is_blind}
    assert {run.job for run in scenario.runs if run.depth_control is DepthControl.CLUTCH} <= blind


def test_some_holes_are_laser_cut_and_some_punched(scenario: Scenario) -> None:
    """Holes are made in several ways."""
    assert {HoleMaking.LASER, HoleMaking.PUNCHED, HoleMaking.CAST} < {job.hole_making for job in scenario.jobs}
