"""Simulates the shop's log: `simulate(today)` gives every row and the truth behind them."""

from __future__ import annotations

import heapq
import math
import random
from collections import Counter, deque
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from seed import shop
from seed.clock import SHIFT_SECONDS, WORKDAYS_A_MONTH, Clock
from seed.floor import CHANGE_SECONDS, PAUSE_SECONDS, Floor, Work
from seed.jobs import JOBS, JobPlan
from seed.journal import Journal
from seed.mistakes import make_mistakes
from seed.rows import (
    Cancellation,
    Correction,
    GaugeCheck,
    Incident,
    Job,
    Material,
    Movement,
    Person,
    Run,
    Station,
    Tap,
    TapType,
)
from seed.schedule import Batch, plan_batches
from seed.stock import Crib
from seed.truth import Truth
from shopfloor.core.errors import InputError

DEFAULT_SEED = 7
DEFAULT_MONTHS = 18
DEFAULT_ZONE = ZoneInfo("America/Toronto")
DEFAULT_TRUTH = Truth()


@dataclass(frozen=True)
class Scenario:
    """The whole log of the invented shop as first entered, what was corrected later, and the truth."""

    shop_name: str
    zone: ZoneInfo
    today: datetime
    tap_types: tuple[TapType, ...]
    taps: tuple[Tap, ...]
    materials: tuple[Material, ...]
    stations: tuple[Station, ...]
    people: tuple[Person, ...]
    jobs: tuple[Job, ...]
    runs: tuple[Run, ...]
    corrections: tuple[Correction, ...]
    cancellations: tuple[Cancellation, ...]
    gauge_checks: tuple[GaugeCheck, ...]
    incidents: tuple[Incident, ...]
    movements: tuple[Movement, ...]
    truth: Truth

    def standing_runs(self) -> tuple[Run, ...]:
        """The runs as they stand: corrected ones in place of the first entry, cancelled ones left out."""
        corrected = {correction.run_id: correction.corrected for correction in self.corrections}
        cancelled = {cancellation.run_id for cancellation in self.cancellations}
        return tuple(corrected.get(run.id, run) for run in self.runs if run.id not in cancelled)


def simulate(
    today: datetime,
    seed: int = DEFAULT_SEED,
    months: int = DEFAULT_MONTHS,
    zone: ZoneInfo = DEFAULT_ZONE,
    truth: Truth = DEFAULT_TRUTH,
) -> Scenario:
    """The shop's log over the `months` before `today` (aware); the same seed gives the same history on other dates."""
    if today.tzinfo is None:
        raise InputError.of("today", "has no time zone", "give an aware datetime")
    rng = random.Random(seed)  # noqa: S311 - reproducible numbers are the point
    workdays = round(months * WORKDAYS_A_MONTH)
    clock = Clock(today, zone, workdays * SHIFT_SECONDS)
    journal = Journal(clock, seed)
    crib = Crib(rng, truth, journal)
    _work_through(plan_batches(rng, workdays), Floor(rng, truth, journal, crib))
    jobs = _jobs(journal.runs, clock, workdays)
    make_mistakes(rng, journal)
    return Scenario(
        shop_name=shop.SHOP_NAME,
        zone=zone,
        today=today,
        tap_types=shop.TAP_TYPES,
        taps=tuple(journal.taps),
        materials=shop.MATERIALS,
        stations=shop.STATIONS,
        people=shop.PEOPLE,
        jobs=jobs,
        runs=tuple(sorted(journal.runs, key=lambda run: run.ended_at)),
        corrections=tuple(sorted(journal.corrections, key=lambda correction: correction.at)),
        cancellations=tuple(sorted(journal.cancellations, key=lambda cancellation: cancellation.at)),
        gauge_checks=tuple(sorted(journal.checks, key=lambda check: check.checked_at)),
        incidents=tuple(sorted(journal.incidents, key=lambda incident: incident.reported_at)),
        movements=tuple(sorted(journal.movements, key=lambda movement: movement.moved_at)),
        truth=truth,
    )


def _work_through(batches: dict[str, deque[Batch]], floor: Floor) -> None:
    """All stations' runs in order of their start, so that the crib serves them in order of time."""
    at_work: dict[str, Work] = {}
    starts = [(queue[0].start, station) for station, queue in batches.items() if queue]
    heapq.heapify(starts)
    while starts:
        second, station = heapq.heappop(starts)
        work = at_work.get(station) or floor.begin(batches[station].popleft())
        end = floor.run(work, second)
        if work.left > 0:
            at_work[station] = work
            heapq.heappush(starts, (end + CHANGE_SECONDS, station))
        else:
            at_work.pop(station, None)
            if batches[station]:
                heapq.heappush(starts, (max(batches[station][0].start, end + PAUSE_SECONDS), station))


def _jobs(runs: list[Run], clock: Clock, workdays: int) -> tuple[Job, ...]:
    holes = Counter[str]()
    for run in runs:
        holes[run.job] += run.holes
    return tuple(_job(plan, holes[plan.code], clock, workdays) for plan in JOBS)


def _job(plan: JobPlan, holes_made: int, clock: Clock, workdays: int) -> Job:
    """A job's planned quantity covers what was made and what is still to come."""
    due_in = plan.due_in_workdays if plan.is_open else round((plan.ends - 1) * workdays)
    return Job(
        code=plan.code,
        part=plan.part,
        material=plan.material,
        thread=plan.thread,
        holes_per_part=plan.holes_per_part,
        depth_mm=plan.depth_mm,
        is_blind=plan.is_blind,
        hole_making=plan.hole_making,
        drilled_mm=plan.drilled_mm,
        drill_depth_mm=plan.drill_depth_mm,
        is_chamfered=plan.is_chamfered,
        is_reamed=plan.is_reamed,
        planned_quantity=math.ceil(holes_made / plan.holes_per_part) + plan.parts_to_come,
        due_on=clock.day_after(due_in),
        planned_rpm=plan.places[0].rpm,
        is_open=plan.is_open,
    )
