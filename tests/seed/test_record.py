"""The log never contradicts itself: runs, checks, incidents and stock movements tell one story."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import pytest

from seed.rows import GaugeCheck, Movement, Run
from seed.shop import STATION, TAP_TYPE
from seed.simulate import Scenario
from shopfloor.core.vocabulary import GaugeResult, MovementKind, TapEnd

CRIB, GRINDER, GONE = "crib", "grinder", "gone"
Event = tuple[datetime, Run | GaugeCheck | Movement]


@pytest.fixture(scope="module")
def logs(scenario: Scenario, many: tuple[Scenario, ...]) -> tuple[Scenario, ...]:
    """All simulated histories: what must never happen must happen in none."""
    return (scenario, *many)


@dataclass
class Whereabouts:
    """Where one tap is, followed through its movements."""

    place: str
    is_ended: bool = False
    is_broken: bool = False

    def follow(self, event: Run | GaugeCheck | Movement) -> None:
        """Check that the event is possible where the tap is, and note what it changes."""
        if isinstance(event, Run):
            self._run(event)
        elif isinstance(event, GaugeCheck):
            self.is_ended |= event.result is GaugeResult.FAILED
        else:
            self._move(event)

    def _run(self, run: Run) -> None:
        assert not self.is_ended, f"{run.tap} had ended"
        assert run.station == self.place
        self.is_ended = run.tap_end is not TapEnd.STILL_GOOD
        self.is_broken = run.tap_end is TapEnd.BROKEN

    def _move(self, movement: Movement) -> None:
        before = movement.station or CRIB
        match movement.kind:
            case MovementKind.ISSUED:
                before, after = CRIB, movement.station or ""
                assert not self.is_ended
            case MovementKind.RETURNED:
                after = CRIB
                assert not self.is_ended
            case MovementKind.SENT_TO_REGRIND:
                after = GRINDER
                assert self.is_ended
                assert not self.is_broken
            case MovementKind.REGROUND:
                before, after, self.is_ended = GRINDER, CRIB, False
            case MovementKind.SCRAPPED:
                after = GONE
                assert self.is_ended
            case _:
                after, self.is_ended = GONE, True
        assert before == self.place, movement
        self.place = after


def events_by_tap(log: Scenario) -> dict[str, list[Event]]:
    """Everything that happened to each tap after it came, in order of time."""
    events: dict[str, list[Event]] = defaultdict(list)
    for run in log.standing_runs():
        events[run.tap].append((run.ended_at, run))
    for check in log.gauge_checks:
        events[check.tap].append((check.checked_at, check))
    for movement in log.movements:
        if movement.tap is not None and movement.kind is not MovementKind.RECEIVED:
            events[movement.tap].append((movement.moved_at, movement))
    return {tap: sorted(found, key=lambda event: event[0]) for tap, found in events.items()}


def where_taps_are(log: Scenario) -> dict[str, Whereabouts]:
    """Where each tap is now; fails where its story is impossible."""
    places = {tap.code: Whereabouts(CRIB) for tap in log.taps}
    for tap, events in events_by_tap(log).items():
        for _, event in events:
            places[tap].follow(event)
    return places


def test_every_tap_has_a_possible_story(logs: tuple[Scenario, ...]) -> None:
    """A tap runs only at the station it was issued to, never after its end, and a broken one is never reground."""
    for log in logs:
        assert len(log.taps) == len(where_taps_are(log))


def test_nothing_happens_to_a_tap_twice_at_once(logs: tuple[Scenario, ...]) -> None:
    """All events of one tap have times of their own."""
    for log in logs:
        for events in events_by_tap(log).values():
            assert all(a < b for (a, _), (b, _) in pairwise(events))


def test_a_station_does_one_thing_after_the_other(logs: tuple[Scenario, ...]) -> None:
    """Times strictly increase at each station, double entries included."""
    for log in logs:
        for station in log.stations:
            times = [run.ended_at for run in log.runs if run.station == station.code]
            assert all(a < b for a, b in pairwise(times))


def test_stock_never_falls_below_zero(logs: tuple[Scenario, ...]) -> None:
    """The crib hands out only what it has."""
    for log in logs:
        ready = Counter[str]()
        for movement in log.movements:
            ready[movement.tap_type] += movement.quantity
            assert ready[movement.tap_type] >= 0, movement


def test_stock_adds_up(logs: tuple[Scenario, ...]) -> None:
    """Whatever was received lies in the crib, is at a station or the grinder, has gone, or was missing at a count."""
    for log in logs:
        places, kinds = where_taps_are(log), {tap.code: tap.tap_type for tap in log.taps}
        outside = Counter(kinds[tap] for tap, now in places.items() if now.place != CRIB)
        for kind in TAP_TYPE:
            own = [movement for movement in log.movements if movement.tap_type == kind]
            received = sum(row.quantity for row in own if row.kind is MovementKind.RECEIVED)
            counted = sum(row.quantity for row in own if row.kind is MovementKind.COUNTED)
            assert received + counted - outside[kind] == sum(row.quantity for row in own)


def test_movements_say_what_the_crib_gains(logs: tuple[Scenario, ...]) -> None:
    """One tap goes out or comes in; what happens at a station leaves the crib as it is."""
    gains = {
        MovementKind.ISSUED: {-1},
        MovementKind.RETURNED: {1},
        MovementKind.REGROUND: {1},
        MovementKind.SENT_TO_REGRIND: {0},
        MovementKind.SCRAPPED: {0},
        MovementKind.LOST: {0},
        MovementKind.COUNTED: {0, -1},
    }
    for log in logs:
        assert set(MovementKind) == {movement.kind for movement in log.movements}
        for kind, expected in gains.items():
            assert expected >= {movement.quantity for movement in log.movements if movement.kind is kind}


def test_every_station_keeps_taps_at_hand_now(logs: tuple[Scenario, ...]) -> None:
    """The boards have something to show: four taps or more at each powered station, of different ages."""
    for log in logs:
        held = Counter(now.place for now in where_taps_are(log).values())
        assert all(held[station.code] >= 4 for station in log.stations if station.rpm_max > 100)
        assert 25 <= sum(held[station.code] for station in log.stations)


def test_speeds_lie_within_the_station(logs: tuple[Scenario, ...]) -> None:
    """No run is faster or slower than its machine can turn."""
    for log in logs:
        assert all(STATION[run.station].rpm_min <= run.rpm <= STATION[run.station].rpm_max for run in log.runs)


def test_a_break_hole_lies_within_its_run(logs: tuple[Scenario, ...]) -> None:
    """A known break hole is the run's last; only a broken tap has one."""
    for log in logs:
        for run in log.runs:
            assert run.holes > 0
            assert run.broke_at_hole in (None, run.holes)
            assert run.broke_at_hole is None or run.tap_end is TapEnd.BROKEN


def test_a_failure_tells_what_became_of_the_part(logs: tuple[Scenario, ...]) -> None:
    """Broken, worn and chipped taps have a part's fate, others none."""
    failed = (TapEnd.BROKEN, TapEnd.WORN, TapEnd.CHIPPED)
    for log in logs:
        assert all((run.part_fate is not None) == (run.tap_end in failed) for run in log.runs)


def test_incidents_tell_of_broken_taps(logs: tuple[Scenario, ...]) -> None:
    """Most breaks have a story, told within the quarter of an hour, and nothing else has."""
    for log in logs:
        broken = {run.id: run for run in log.runs if run.tap_end is TapEnd.BROKEN}
        assert 0.85 * len(broken) < len(log.incidents) <= len(broken)
        for incident in log.incidents:
            assert 0 < (incident.reported_at - broken[incident.run_id].ended_at).total_seconds() <= 900


def test_references_point_to_something(scenario: Scenario) -> None:
    """Every code that a row names is that of another row."""
    jobs = {job.code: job for job in scenario.jobs}
    people, taps = {row.code for row in scenario.people}, {row.code for row in scenario.taps}
    for run in scenario.runs:
        assert run.person in people
        assert run.tap in taps
        assert run.material == jobs[run.job].material
    assert {tap.tap_type for tap in scenario.taps} <= set(TAP_TYPE)
    assert {job.material for job in scenario.jobs} <= {material.code for material in scenario.materials}


def test_a_run_uses_a_tap_of_the_jobs_thread(scenario: Scenario) -> None:
    """Thread of tap and job agree."""
    thread = {tap.code: TAP_TYPE[tap.tap_type].thread for tap in scenario.taps}
    wanted = {job.code: job.thread for job in scenario.jobs}
    assert all(wanted[run.job] == thread[run.tap] for run in scenario.runs)


def test_ids_are_unique(scenario: Scenario) -> None:
    """No two rows share an id, corrected runs included."""
    ids = [
        *(run.id for run in scenario.runs),
        *(row.corrected.id for row in scenario.corrections),
        *(check.id for check in scenario.gauge_checks),
        *(incident.id for incident in scenario.incidents),
        *(movement.id for movement in scenario.movements),
    ]
    assert len(ids) == len(set(ids))


def test_a_batch_is_one_job_at_one_station(scenario: Scenario) -> None:
    """Runs of a batch differ in the tap alone."""
    shared: dict[object, tuple[object, ...]] = {}
    for run in scenario.standing_runs():
        same = (run.station, run.job, run.rpm, run.person, run.lubricant)
        assert same == shared.setdefault(run.batch_id, same)
