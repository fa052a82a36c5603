"""The shop floor: which tap a batch gets, how each run goes, how taps end."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass
from datetime import timedelta

from seed import stories
from seed.clock import SHIFT_SECONDS
from seed.jobs import FORMING, JobPlan
from seed.journal import Journal
from seed.life import Setting, TapInHand, cutting_slips, draw_life, draw_used_life, true_life
from seed.rows import Run
from seed.schedule import SECONDS_PER_HOLE, Batch
from seed.shop import AIR, CRIB_KEEPER, TAP_TYPE
from seed.stock import Crib
from seed.truth import TrueLife, Truth
from shopfloor.core.vocabulary import GaugeResult, Lubricant, MovementKind, PartFate, TapEnd

CHANGE_SECONDS = 240
PAUSE_SECONDS = 360
_CHECK_AFTER, _MOVE_AFTER = 90, 150

_RACK_HOLDS = 6
_UNUSED_WORKDAYS = 22
_MOVES_TO_OTHER_MATERIAL = 0.3
_MOVES_AFTER_WORKDAYS = 4
_ADOPTS_EARLY, _EARLY_SHARE, _ADOPTS_LATER = 0.35, 0.05, 0.008
_PAST_UNKNOWN, _PAST_SHARE_OF_LIFE = 0.4, (0.1, 0.6)
_FORGOTTEN_LUBRICANT = 0.03
_WEAR_SPOTTED_AT_ONCE = 0.55
_SPOTTED_WITHIN_HOLES = 3
_WORN_IS_CHIPPED = 0.14
_WORN_CHECKED = 0.7
_ROUTINE_CHECK = 0.12
_OPERATOR_SAYS_WORN = 0.5
_LOST_AFTER_BATCH = 0.003
_FEELS_DULL, _RETIRES_ON_FEEL = 0.2, 0.3
_CHANGES_DEAR_PART_TAP = 0.85
_REGROUND_SHARE, _MOST_REGRINDS, _SMALLEST_TO_REGRIND = 0.5, 2, ("M8", "M10", "M12x1.25", "3/8-16 UNC", "1/2-13 UNC")
_INCIDENT_REPORTED = 0.94
_SLOW_TABLET_SECONDS = {AIR: 420}
_SAVED_OFFLINE, _OFFLINE_SECONDS = 0.04, 1500


@dataclass
class Work:
    """A batch under way."""

    batch: Batch
    batch_id: uuid.UUID
    lubricant: Lubricant
    left: int


@dataclass(frozen=True)
class _Outcome:
    """How a run went."""

    holes_made: int
    tap_end: TapEnd
    check: GaugeResult | None = None


Slot = tuple[tuple[str, ...], str, int]


class Floor:
    """Runs batches with taps from the crib and writes the runs down."""

    def __init__(self, rng: random.Random, truth: Truth, journal: Journal, crib: Crib) -> None:
        self._rng, self._truth, self._journal, self._crib = rng, truth, journal, crib
        self._racks: dict[str, dict[Slot, TapInHand]] = {station: {} for station in SECONDS_PER_HOLE}

    def begin(self, batch: Batch) -> Work:
        """Start a batch: tidy the station's rack and prepare the lubricant, or forget to."""
        self._crib.pass_time(batch.start)
        forgets = self._rng.random() < _FORGOTTEN_LUBRICANT
        lubricant = Lubricant.NONE if forgets else batch.job.lubricant
        return Work(batch, self._journal.new_id(), lubricant, batch.holes)

    def run(self, work: Work, second: int) -> int:
        """Tap with one tap until the batch is done or the tap has ended; gives the second when the run ends."""
        batch = work.batch
        self._crib.pass_time(second)
        self._tidy(batch, second)
        tap = self._tap_for(batch, second)
        setting = Setting(batch.station, batch.job, batch.rpm, work.lubricant)
        life = true_life(self._truth, tap, setting)
        outcome = self._outcome(tap, life, work.left, batch.job)
        slips = cutting_slips(self._rng, self._truth, tap, setting, life, outcome.holes_made)
        end = second + outcome.holes_made * SECONDS_PER_HOLE[batch.station]
        tap.hidden.cut(outcome.holes_made, life)
        tap.holes += outcome.holes_made
        tap.last_used = end
        outcome = self._on_feeling(outcome, slips)
        run = self._write_run(work, tap, outcome, slips, end)
        if outcome.tap_end is TapEnd.BROKEN and self._rng.random() < _INCIDENT_REPORTED:
            self._report(run, tap, setting)
        self._close(work, tap, outcome, end)
        work.left -= outcome.holes_made
        return end

    def _tap_for(self, batch: Batch, second: int) -> TapInHand:
        rack, slot = self._racks[batch.station], _slot(batch)
        if slot not in rack:
            rack[slot] = (
                self._moved(batch, second)
                or self._adopted(batch, second)
                or self._crib.issue(batch.job.tap_types, batch.station, batch.person, second)
            )
        return rack[slot]

    def _moved(self, batch: Batch, second: int) -> TapInHand | None:
        """A tap of the same kind that the station keeps for another material or speed and has not used lately."""
        rack = self._racks[batch.station]
        for slot, tap in rack.items():
            rested = second - tap.last_used > _MOVES_AFTER_WORKDAYS * SHIFT_SECONDS
            if slot[0] == batch.job.tap_types and rested and self._rng.random() < _MOVES_TO_OTHER_MATERIAL:
                return rack.pop(slot)
        return None

    def _adopted(self, batch: Batch, second: int) -> TapInHand | None:
        """A used tap that was there before the log began, or turns up from a drawer."""
        is_early = second < _EARLY_SHARE * self._journal.clock.end_second
        if self._rng.random() >= (_ADOPTS_EARLY if is_early else _ADOPTS_LATER):
            return None
        kind = TAP_TYPE[self._rng.choice(batch.job.tap_types)]
        tap = TapInHand(self._crib.next_code(), kind, None, 0, draw_life(self._rng, self._truth, kind))
        life = true_life(self._truth, tap, Setting(batch.station, batch.job, batch.rpm, batch.job.lubricant))
        tap.holes = max(10, round(self._rng.uniform(*_PAST_SHARE_OF_LIFE) * life.wear.scale / 10) * 10)
        tap.hidden = draw_used_life(self._rng, self._truth, kind, life, tap.holes)
        is_unknown = self._rng.random() < _PAST_UNKNOWN
        self._crib.adopt(tap, batch.station, batch.person, second, None if is_unknown else tap.holes)
        return tap

    def _tidy(self, batch: Batch, second: int) -> None:
        """Bring back what the station has not used for long, and what its rack has no room for."""
        rack = self._racks[batch.station]
        by_age = sorted(rack, key=lambda slot: rack[slot].last_used)
        for position, slot in enumerate(by_age):
            is_old = second - rack[slot].last_used > _UNUSED_WORKDAYS * SHIFT_SECONDS
            is_crowded = len(by_age) - position > _RACK_HOLDS
            if slot != _slot(batch) and (is_old or is_crowded):
                self._crib.take_back(rack.pop(slot), batch.station, batch.person, second)

    def _outcome(self, tap: TapInHand, life: TrueLife, holes: int, job: JobPlan) -> _Outcome:
        to_break = tap.hidden.holes_to_break(life)
        to_wear = tap.hidden.holes_to_wear(life)
        if tap.is_overdue:
            return _broken(to_break) if to_break <= holes else _Outcome(holes, TapEnd.STILL_GOOD, GaugeResult.FAILED)
        if to_wear <= holes and to_wear < to_break:
            return self._worn(tap, to_wear, to_break, holes)
        if to_break <= holes:
            return _broken(to_break)
        return self._still_good(tap, holes, job)

    def _worn(self, tap: TapInHand, to_wear: int, to_break: int, holes: int) -> _Outcome:
        """Wear shows in the threads at once, or at the gauge after the batch, or only at the gauge next time."""
        spotted = min(to_wear + self._rng.randint(0, _SPOTTED_WITHIN_HOLES), holes)
        if self._rng.random() < _WEAR_SPOTTED_AT_ONCE and spotted < to_break:
            is_chipped = self._rng.random() < _WORN_IS_CHIPPED / _WEAR_SPOTTED_AT_ONCE
            return _Outcome(spotted, TapEnd.CHIPPED if is_chipped else TapEnd.WORN)
        if to_break <= holes:
            return _broken(to_break)
        if self._rng.random() >= _WORN_CHECKED:
            tap.is_overdue = True
            return _Outcome(holes, TapEnd.STILL_GOOD)
        says_so = self._rng.random() < _OPERATOR_SAYS_WORN
        return _Outcome(holes, TapEnd.WORN if says_so else TapEnd.STILL_GOOD, GaugeResult.FAILED)

    def _still_good(self, tap: TapInHand, holes: int, job: JobPlan) -> _Outcome:
        is_dear = job.changes_tap_at is not None and tap.holes + holes >= job.changes_tap_at
        if is_dear and self._rng.random() < _CHANGES_DEAR_PART_TAP:
            return _Outcome(holes, TapEnd.RETIRED_EARLY)
        is_checked = self._rng.random() < _ROUTINE_CHECK
        return _Outcome(holes, TapEnd.STILL_GOOD, GaugeResult.PASSED if is_checked else None)

    def _on_feeling(self, outcome: _Outcome, slips: int) -> _Outcome:
        """A tap that slips a lot is sometimes changed before anything happens."""
        feels_dull = slips > 2 and slips > _FEELS_DULL * outcome.holes_made
        is_fine = outcome.tap_end is TapEnd.STILL_GOOD and outcome.check is None
        if is_fine and feels_dull and self._rng.random() < _RETIRES_ON_FEEL:
            return _Outcome(outcome.holes_made, TapEnd.RETIRED_EARLY)
        return outcome

    def _write_run(self, work: Work, tap: TapInHand, outcome: _Outcome, slips: int, end: int) -> Run:
        batch, at = work.batch, self._journal.clock.at(end)
        is_broken = outcome.tap_end is TapEnd.BROKEN
        is_known = is_broken and self._rng.random() >= self._share_unknown(batch.station)
        saved_after = self._rng.randint(2, 25)
        if self._rng.random() < _SAVED_OFFLINE:
            saved_after += self._rng.randint(60, _OFFLINE_SECONDS)
        slow = _SLOW_TABLET_SECONDS.get(batch.station, 0) + self._rng.randint(0, 3)
        run = Run(
            id=self._journal.new_id(),
            ended_at=at,
            device_time=self._journal.clock.device_time(at, slow),
            person=batch.person,
            station=batch.station,
            job=batch.job.code,
            tap=tap.code,
            material=batch.job.material,
            rpm=batch.rpm,
            holes=work.left if is_broken and not is_known else outcome.holes_made,
            cutting_slips=slips,
            depth_control=batch.job.depth_control,
            lubricant=work.lubricant,
            tap_end=outcome.tap_end,
            broke_at_hole=outcome.holes_made if is_known else None,
            part_fate=self._part_fate(outcome.tap_end),
            note=stories.note(self._rng, outcome.tap_end),
            batch_id=work.batch_id,
            recorded_at=at + timedelta(seconds=saved_after),
        )
        self._journal.runs.append(run)
        return run

    def _share_unknown(self, station: str) -> float:
        is_uncounted = station == self._truth.uncounted_station
        return self._truth.unknown_break_hole_uncounted if is_uncounted else self._truth.unknown_break_hole

    def _part_fate(self, tap_end: TapEnd) -> PartFate | None:
        if tap_end is TapEnd.BROKEN:
            return stories.part_fate(self._rng)
        if tap_end in (TapEnd.WORN, TapEnd.CHIPPED):
            return PartFate.REWORKED if self._rng.random() < stories.WORN_PART_REWORKED else PartFate.GOOD
        return None

    def _report(self, run: Run, tap: TapInHand, setting: Setting) -> None:
        cause = stories.likely_cause(self._rng, self._truth, tap, setting)
        delay = timedelta(seconds=self._rng.randint(40, 900))
        self._journal.report(run, cause, stories.account(self._rng, cause), delay)

    def _close(self, work: Work, tap: TapInHand, outcome: _Outcome, end: int) -> None:
        """What follows the run: the gauge, and the tap's way if it has ended or cannot be found any more."""
        batch = work.batch
        if outcome.check is not None:
            self._journal.check(end + _CHECK_AFTER, batch.person, tap.code, outcome.check)
        is_over = outcome.tap_end is not TapEnd.STILL_GOOD or outcome.check is GaugeResult.FAILED
        if not is_over and self._rng.random() >= _LOST_AFTER_BATCH:
            return
        del self._racks[batch.station][_slot(batch)]
        tap.is_ended = True
        if not is_over:
            self._dispose(MovementKind.LOST, tap, batch.station, end, "not found again")
        elif self._can_be_reground(tap, outcome.tap_end) and self._rng.random() < _REGROUND_SHARE:
            self._crib.send_to_regrind(tap, batch.station, end + _MOVE_AFTER)
        else:
            self._dispose(MovementKind.SCRAPPED, tap, batch.station, end, "")

    def _dispose(self, kind: MovementKind, tap: TapInHand, station: str, end: int, note: str) -> None:
        self._journal.move(
            end + _MOVE_AFTER, kind, tap.kind.code, 0, CRIB_KEEPER, tap=tap.code, station=station, note=note
        )

    def _can_be_reground(self, tap: TapInHand, tap_end: TapEnd) -> bool:
        is_whole = tap_end not in (TapEnd.BROKEN, TapEnd.CHIPPED)
        is_worth_it = tap.kind.thread in _SMALLEST_TO_REGRIND and tap.kind.style is not FORMING
        return is_whole and is_worth_it and tap.regrinds < _MOST_REGRINDS


def _slot(batch: Batch) -> Slot:
    return batch.job.tap_types, batch.job.material, batch.rpm


def _broken(at_hole: int) -> _Outcome:
    return _Outcome(at_hole, TapEnd.BROKEN)
