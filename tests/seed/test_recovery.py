"""From the log to life: what the tool estimates from logged runs is what the simulated taps lived by."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import count

import numpy as np
import pytest

from seed import shop
from seed.truth import TrueLife, Truth
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.tap_lives import (
    Event,
    GaugeReading,
    LoggedRun,
    Movement,
    Observation,
    lives_of_tap,
)
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.vocabulary import Mode, MovementKind, TapEnd
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_modes

BATCH, TAPS, CHECK_EVERY = 10, 700, 30
NEVER_IN_PRACTICE = 0.9999
"""Level of the intervals that must hold the truth: one in 10,000 would fail by chance, and the seed is fixed."""

STEEL = CuttingConditions(1, 1, "6.3-10 m/min")
TRUTH = Truth(frailty_sd=0.0).life(shop.TAP_TYPE["M8 spiral point North"], "structural steel", 7.54)


def story(rng: np.random.Generator, life: TrueLife, *, entry: int) -> list[Event] | None:
    """A tap's log until it ends or is changed in time; None where it would not have lasted to be seen at all."""
    wears_at, breaks_at = (
        math.ceil(law.scale * rng.exponential() ** (1 / law.shape)) for law in (life.wear, life.breakage)
    )
    if min(wears_at, breaks_at) <= entry:
        return None
    changed_at = entry + BATCH * int(rng.integers(20, 90))
    now, holes, events, step = datetime(2026, 1, 5, tzinfo=UTC), entry, list[Event](), count(1)
    while True:
        at = now + timedelta(hours=next(step))
        after = holes + BATCH
        if breaks_at <= min(after, wears_at):
            known = breaks_at - holes if rng.random() < 0.6 else None
            return [*events, LoggedRun(at, 0, STEEL, known or BATCH, 0, TapEnd.BROKEN, known)]
        if wears_at <= after:
            return [*events, LoggedRun(at, 0, STEEL, BATCH, 0, TapEnd.WORN)]
        events.append(LoggedRun(at, 0, STEEL, BATCH, 0, TapEnd.STILL_GOOD))
        holes = after
        if holes % CHECK_EVERY == 0:
            events.append(GaugeReading(at, passed=True))
        if holes >= changed_at:
            return [*events, Movement(at, MovementKind.SCRAPPED)]


def logged_lives(entry_of: dict[int, int]) -> list[Observation]:
    """What the log tells of many taps; `entry_of` gives the holes on those that came already used."""
    rng = np.random.default_rng(11)
    found = []
    for number in range(TAPS):
        entry = entry_of.get(number % 4, 0)
        events = story(rng, TRUTH, entry=entry)
        if events is None:
            continue
        observation = lives_of_tap(entry, 0, events)[-1].observation
        assert observation is not None
        found.append(observation)
    return found


@pytest.mark.parametrize("entry_of", [{}, {1: 60, 3: 150}], ids=["all new", "half came used"])
def test_break_and_wear_are_found_again(entry_of: dict[int, int]) -> None:
    """Exact and unknown break holes, worn, changed in time, seen late: both laws lie in their intervals."""
    seen = logged_lives(entry_of)
    lives = Lives.of(
        [o.lower for o in seen],
        [math.inf if o.upper is None else o.upper for o in seen],
        entry=[o.entry for o in seen],
        mode=[o.mode.value if o.mode else "" for o in seen],
    )
    fits = fit_modes(lives, level=NEVER_IN_PRACTICE)
    for mode, truth in ((Mode.BREAK, TRUTH.breakage), (Mode.WEAR, TRUTH.wear)):
        fit = fits[mode.value]
        assert isinstance(fit, WeibullFit)
        assert fit.evidence.failures > 100
        assert fit.shape_interval[0] < truth.shape < fit.shape_interval[1]
        assert fit.scale_interval[0] < truth.scale < fit.scale_interval[1]


def test_breaks_per_1000_holes_are_what_the_truth_gives() -> None:
    """Expected breaks are the break law's cumulative hazard, summed over the ages that the taps lived to."""
    seen = logged_lives({})
    ages = [o.lower if o.upper is None else (o.lower + o.upper) / 2 for o in seen]
    expected = sum((age / TRUTH.breakage.scale) ** TRUTH.breakage.shape for age in ages)
    breaks = sum(o.mode is Mode.BREAK for o in seen)
    rate = rate_per_1000(breaks, sum(ages), NEVER_IN_PRACTICE)
    assert rate.lower < 1000 * expected / sum(ages) < rate.upper
