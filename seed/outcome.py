"""How a run ends: tap still good, broken, worn and noticed (or not), changed in time."""

from __future__ import annotations

import random
from dataclasses import dataclass

from seed.jobs import JobPlan
from seed.life import TapInHand
from seed.truth import TrueLife
from shopfloor.core.vocabulary import GaugeResult, TapEnd

_WEAR_SPOTTED_AT_ONCE = 0.55
_SPOTTED_WITHIN_HOLES = 3
_SPOTTED_IS_CHIPPED = 0.25
_WORN_IS_GAUGED = 0.7
_OPERATOR_SAYS_WORN = 0.5
_ROUTINE_CHECK = 0.12
_CHANGES_DEAR_PART_TAP = 0.85
_FEELS_DULL, _LEAST_SLIPS, _RETIRES_ON_FEEL = 0.2, 3, 0.3


@dataclass(frozen=True)
class Outcome:
    """How a run went: holes actually made, the tap's end as logged, and the gauge result if it was checked."""

    holes_made: int
    tap_end: TapEnd
    check: GaugeResult | None = None

    @property
    def ends_life(self) -> bool:
        """Whether the tap makes no more holes in this life."""
        return self.tap_end is not TapEnd.STILL_GOOD or self.check is GaugeResult.FAILED


def go(rng: random.Random, tap: TapInHand, life: TrueLife, holes: int, job: JobPlan) -> Outcome:
    """What happens when the tap is to make `holes` more; flags wear that nobody notices."""
    to_break = tap.hidden.holes_to_break(life)
    to_wear = tap.hidden.holes_to_wear(life)
    if not tap.is_overdue and to_wear <= holes and to_wear < to_break:
        return _worn(rng, tap, to_wear, to_break, holes)
    if to_break <= holes:
        return Outcome(to_break, TapEnd.BROKEN)
    if tap.is_overdue:
        return Outcome(holes, TapEnd.STILL_GOOD, GaugeResult.FAILED)
    return _good_to_the_end(rng, tap, holes, job)


def as_it_feels(rng: random.Random, outcome: Outcome, cutting_slips: int) -> Outcome:
    """Sometimes change a tap that slips a lot before anything happens."""
    feels_dull = cutting_slips >= _LEAST_SLIPS and cutting_slips > _FEELS_DULL * outcome.holes_made
    is_free = outcome.tap_end is TapEnd.STILL_GOOD and outcome.check is None
    if is_free and feels_dull and rng.random() < _RETIRES_ON_FEEL:
        return Outcome(outcome.holes_made, TapEnd.RETIRED_EARLY)
    return outcome


def _worn(rng: random.Random, tap: TapInHand, to_wear: int, to_break: int, holes: int) -> Outcome:
    """Wear shows in the threads at once, or at the gauge after the batch, or only at the gauge next time."""
    spotted = min(to_wear + rng.randint(0, _SPOTTED_WITHIN_HOLES), holes)
    if rng.random() < _WEAR_SPOTTED_AT_ONCE and spotted < to_break:
        return Outcome(spotted, TapEnd.CHIPPED if rng.random() < _SPOTTED_IS_CHIPPED else TapEnd.WORN)
    if to_break <= holes:
        return Outcome(to_break, TapEnd.BROKEN)
    if rng.random() >= _WORN_IS_GAUGED:
        tap.is_overdue = True
        return Outcome(holes, TapEnd.STILL_GOOD)
    says_so = rng.random() < _OPERATOR_SAYS_WORN
    return Outcome(holes, TapEnd.WORN if says_so else TapEnd.STILL_GOOD, GaugeResult.FAILED)


def _good_to_the_end(rng: random.Random, tap: TapInHand, holes: int, job: JobPlan) -> Outcome:
    is_dear = job.changes_tap_at is not None and tap.holes + holes >= job.changes_tap_at
    if is_dear and rng.random() < _CHANGES_DEAR_PART_TAP:
        return Outcome(holes, TapEnd.RETIRED_EARLY)
    is_checked = rng.random() < _ROUTINE_CHECK
    return Outcome(holes, TapEnd.STILL_GOOD, GaugeResult.PASSED if is_checked else None)
