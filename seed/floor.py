"""The shop floor: each run is tapped, logged, and followed by what its tap's end requires."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass
from datetime import timedelta

from seed import stories
from seed.jobs import FORMING
from seed.journal import Journal
from seed.life import Setting, TapInHand, cutting_slips, true_life
from seed.outcome import Outcome, as_it_feels, go
from seed.racks import Racks
from seed.rows import Run
from seed.schedule import SECONDS_PER_HOLE, Batch
from seed.shop import AIR, CRIB_KEEPER
from seed.stock import Crib
from seed.truth import Truth
from shopfloor.core.vocabulary import Lubricant, MovementKind, TapEnd

CHANGE_SECONDS, PAUSE_SECONDS = 240, 360
_CHECK_AFTER, _MOVE_AFTER = 90, 150
_FORGOTTEN_LUBRICANT = 0.03
_LOST_AFTER_BATCH = 0.0025
_REGROUND_SHARE, _MOST_REGRINDS = 0.5, 2
_TOO_SMALL_TO_REGRIND = ("M6", "#10-32 UNF", "1/4-20 UNC")
_INCIDENT_REPORTED, _REPORTED_WITHIN_SECONDS = 0.94, (40, 900)
_SLOW_TABLET_SECONDS = {AIR: 420}
_SAVED_WITHIN_SECONDS = (2, 25)
_SAVED_OFFLINE, _OFFLINE_SECONDS = 0.04, (60, 1500)


@dataclass
class Work:
    """A batch under way; `left` counts the holes still to make."""

    batch: Batch
    batch_id: uuid.UUID
    lubricant: Lubricant
    left: int

    @property
    def setting(self) -> Setting:
        """The conditions that its runs share."""
        return Setting(self.batch.station, self.batch.job, self.batch.rpm, self.lubricant)


class Floor:
    """Runs batches with taps from the crib and writes the runs down."""

    def __init__(self, rng: random.Random, truth: Truth, journal: Journal, crib: Crib) -> None:
        self._rng, self._truth, self._journal, self._crib = rng, truth, journal, crib
        self._racks = Racks(rng, truth, crib, journal.clock.end_second)

    def begin(self, batch: Batch) -> Work:
        """Start a batch; occasionally the lubricant is forgotten."""
        is_forgotten = self._rng.random() < _FORGOTTEN_LUBRICANT
        lubricant = Lubricant.NONE if is_forgotten else batch.job.lubricant
        return Work(batch, self._journal.new_id(), lubricant, batch.holes)

    def run(self, work: Work, second: int) -> int:
        """Run one tap until the batch is done or the tap has ended; returns the second at which the run ends."""
        self._crib.pass_time(second)
        tap = self._racks.tap_for(work.batch, second)
        outcome, slips = self._tap_holes(tap, work)
        end = second + outcome.holes_made * SECONDS_PER_HOLE[work.batch.station]
        tap.last_used, tap.last_work = end, (work.batch.job.material, work.batch.rpm)
        run = self._run_row(work, tap, outcome, slips, end)
        self._journal.runs.append(run)
        if outcome.tap_end is TapEnd.BROKEN and self._rng.random() < _INCIDENT_REPORTED:
            self._report(run, tap, work.setting)
        self._follow_up(work, tap, outcome, end)
        work.left -= outcome.holes_made
        return end

    def _tap_holes(self, tap: TapInHand, work: Work) -> tuple[Outcome, int]:
        """Let the tap make its holes; returns the outcome and the cutting slips."""
        life = true_life(self._truth, tap, work.setting)
        outcome = go(self._rng, tap, life, work.left, work.batch.job)
        slips = cutting_slips(self._rng, self._truth, tap, work.setting, life, outcome.holes_made)
        tap.hidden.cut(outcome.holes_made, life)
        tap.holes += outcome.holes_made
        return as_it_feels(self._rng, outcome, slips), slips

    def _run_row(self, work: Work, tap: TapInHand, outcome: Outcome, slips: int, end: int) -> Run:
        batch, at = work.batch, self._journal.clock.at(end)
        is_broken = outcome.tap_end is TapEnd.BROKEN
        is_counted = not is_broken or self._rng.random() >= self._share_unknown(batch.station)
        return Run(
            id=self._journal.new_id(),
            ended_at=at,
            device_time=self._journal.clock.device_time(at, _SLOW_TABLET_SECONDS.get(batch.station, 0)),
            person=batch.person,
            station=batch.station,
            job=batch.job.code,
            tap=tap.code,
            material=batch.job.material,
            rpm=batch.rpm,
            holes=outcome.holes_made if is_counted else work.left,
            cutting_slips=slips,
            depth_control=batch.job.depth_control,
            lubricant=work.lubricant,
            tap_end=outcome.tap_end,
            broke_at_hole=outcome.holes_made if is_broken and is_counted else None,
            part_fate=stories.part_fate(self._rng, outcome.tap_end),
            note=stories.note(self._rng, outcome.tap_end),
            batch_id=work.batch_id,
            recorded_at=at + self._saved_after(),
        )

    def _saved_after(self) -> timedelta:
        is_offline = self._rng.random() < _SAVED_OFFLINE
        return timedelta(seconds=self._rng.randint(*(_OFFLINE_SECONDS if is_offline else _SAVED_WITHIN_SECONDS)))

    def _share_unknown(self, station: str) -> float:
        is_uncounted = station == self._truth.uncounted_station
        return self._truth.unknown_break_hole_uncounted if is_uncounted else self._truth.unknown_break_hole

    def _report(self, run: Run, tap: TapInHand, setting: Setting) -> None:
        cause = stories.likely_cause(self._rng, self._truth, tap, setting)
        delay = timedelta(seconds=self._rng.randint(*_REPORTED_WITHIN_SECONDS))
        self._journal.report(run, cause, stories.account(self._rng, cause), delay)

    def _follow_up(self, work: Work, tap: TapInHand, outcome: Outcome, end: int) -> None:
        """What follows the run: the gauge check, and where the tap goes if it has ended or been lost."""
        if outcome.check is not None:
            self._journal.check(end + _CHECK_AFTER, work.batch.person, tap.code, outcome.check)
        if outcome.ends_life:
            self._racks.take_out(work.batch)
            self._dispose(tap, outcome, work.batch.station, end + _MOVE_AFTER)
        elif self._rng.random() < _LOST_AFTER_BATCH:
            self._racks.take_out(work.batch)
            self._leave_stock(MovementKind.LOST, tap, work.batch.station, end + _MOVE_AFTER, "not found again")

    def _dispose(self, tap: TapInHand, outcome: Outcome, station: str, second: int) -> None:
        if _can_be_reground(tap, outcome) and self._rng.random() < _REGROUND_SHARE:
            self._crib.send_to_regrind(tap, station, second)
        else:
            self._leave_stock(MovementKind.SCRAPPED, tap, station, second, "")

    def _leave_stock(self, kind: MovementKind, tap: TapInHand, station: str, second: int, note: str) -> None:
        self._journal.move(second, kind, tap.kind.code, 0, CRIB_KEEPER, tap=tap.code, station=station, note=note)


def _can_be_reground(tap: TapInHand, outcome: Outcome) -> bool:
    is_whole = outcome.tap_end not in (TapEnd.BROKEN, TapEnd.CHIPPED)
    is_worth_it = tap.kind.thread not in _TOO_SMALL_TO_REGRIND and tap.kind.style is not FORMING
    return is_whole and is_worth_it and tap.regrinds < _MOST_REGRINDS
