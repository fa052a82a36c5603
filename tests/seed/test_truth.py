"""The truth: its shapes and scales are what simulated taps live by."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import CensoredData, weibull_min

from seed import shop
from seed.jobs import JOBS, JobPlan
from seed.life import TapInHand, draw_life, draw_used_life, poisson
from seed.outcome import go
from seed.rows import TapType
from seed.truth import Circumstances, Factor, TrueLife, TrueWeibull, Truth
from shopfloor.core.vocabulary import TapEnd
from tests.seed.conftest import seeded

EVEN = Truth(frailty_sd=0.0)
M8 = shop.TAP_TYPE["M8 spiral point North"]
SPEED_M_MIN = 7.54
TAPS = 3000
STANDARD_ERRORS = 4.0


def error_of_shape(shape: float, failures: int) -> float:
    """Large-sample standard error of a Weibull shape from complete lives: Fisher information, 6/pi^2 shape^2/n."""
    return math.sqrt(6 / (math.pi**2 * failures)) * shape


def error_of_scale(life: TrueWeibull, failures: int) -> float:
    """Standard error of a Weibull scale from complete lives: Fisher information, 1.1087 scale^2/(n k^2)."""
    return math.sqrt(1.1087 / failures) * life.scale / life.shape


def fitted(failures: NDArray[np.float64], censored: NDArray[np.float64]) -> TrueWeibull:
    """Plain maximum likelihood, by scipy."""
    shape, _, scale = weibull_min.fit(CensoredData(uncensored=failures, right=censored), floc=0)
    return TrueWeibull(shape, scale)


def close(expected: TrueWeibull, found: TrueWeibull, failures: int) -> bool:
    """Whether an estimate lies within four standard errors of the truth; holes are whole, which may add half a hole."""
    off_shape = abs(found.shape - expected.shape) / error_of_shape(expected.shape, failures)
    off_scale = max(0.0, abs(found.scale - expected.scale) - 0.5) / error_of_scale(expected, failures)
    return max(off_shape, off_scale) < STANDARD_ERRORS


def tap_of(kind: TapType, rng: random.Random) -> TapInHand:
    """A new tap without frailty."""
    return TapInHand("T", kind, None, 0, draw_life(rng, EVEN, kind))


def plain_job() -> JobPlan:
    """A job whose taps are not changed on purpose."""
    return next(job for job in JOBS if job.changes_tap_at is None)


@pytest.mark.parametrize("kind", shop.TAP_TYPES[:6], ids=lambda kind: kind.code)
def test_wear_and_break_alone_follow_the_truth(kind: TapType) -> None:
    """Each mode's lives, seen without the other, give back the true shape and scale."""
    rng, life = seeded(11), EVEN.life(kind, shop.STAINLESS, SPEED_M_MIN)
    taps = [draw_life(rng, EVEN, kind) for _ in range(TAPS)]
    none = np.array([])
    worn = fitted(np.array([tap.holes_to_wear(life) - 0.5 for tap in taps]), none)
    broken = fitted(np.array([tap.holes_to_break(life) - 0.5 for tap in taps]), none)
    assert close(life.wear, worn, TAPS)
    assert close(life.breakage, broken, TAPS)


def break_life(rng: random.Random, life: TrueLife, batch: int) -> tuple[int, bool]:
    """Holes until a tap broke in batches of one size, or until it ended otherwise."""
    tap, holes = tap_of(M8, rng), 0
    while True:
        outcome = go(rng, tap, life, batch, plain_job())
        tap.hidden.cut(outcome.holes_made, life)
        holes += outcome.holes_made
        if outcome.ends_life:
            return holes, outcome.tap_end is TapEnd.BROKEN


def test_breaks_among_worn_taps_follow_the_truth() -> None:
    """With worn taps as censored, as a shop sees them, the log gives back the true break life."""
    rng, life = seeded(12), EVEN.life(M8, shop.STRUCTURAL, SPEED_M_MIN)
    lives = [break_life(rng, life, batch=40) for _ in range(TAPS)]
    broken = np.array([holes - 0.5 for holes, is_broken in lives if is_broken])
    others = np.array([float(holes) for holes, is_broken in lives if not is_broken])
    assert close(life.breakage, fitted(broken, others), len(broken))


def test_a_life_over_two_conditions_is_used_up_at_each_ones_rate() -> None:
    """After half the wear life in steel, half the wear life in stainless is left."""
    hidden = draw_life(seeded(1), EVEN, M8)
    steel, stainless = (EVEN.life(M8, material, SPEED_M_MIN) for material in (shop.STRUCTURAL, shop.STAINLESS))
    hidden.cut(hidden.wear_limit * steel.wear.scale / 2, steel)
    assert math.ceil(hidden.wear_limit * stainless.wear.scale / 2) == pytest.approx(
        hidden.holes_to_wear(stainless), abs=1
    )


def test_frailty_leaves_the_mean_life_and_spreads_it() -> None:
    """Frailty has mean 1; the log of the limits varies by its variance more."""
    shaken, still = Truth(frailty_sd=0.5), EVEN
    logs = [
        np.log([draw_life(rng, truth, M8).wear_limit for _ in range(20_000)])
        for rng, truth in ((seeded(3), shaken), (seeded(4), still))
    ]
    assert 0.25 == pytest.approx(logs[0].var() - logs[1].var(), rel=0.1)
    assert -0.125 == pytest.approx(logs[0].mean() - logs[1].mean(), abs=0.02)


def test_speed_acts_by_taylors_power() -> None:
    """Doubling the speed divides both scales by two to the power of the mode's exponent, and leaves the shapes."""
    slow, fast = (EVEN.life(M8, shop.ALUMINIUM, speed) for speed in (15, 30))
    assert 2**EVEN.wear_speed_exponent == pytest.approx(slow.wear.scale / fast.wear.scale)
    assert 2**EVEN.break_speed_exponent == pytest.approx(slow.breakage.scale / fast.breakage.scale)
    assert (slow.wear.shape, slow.breakage.shape) == (fast.wear.shape, fast.breakage.shape)


def test_below_a_slowest_speed_nothing_is_gained() -> None:
    """A crawling tap lives no longer than a slow one."""
    assert EVEN.life(M8, shop.STAINLESS, 0.5) == EVEN.life(M8, shop.STAINLESS, 1.0)


@pytest.mark.parametrize(
    ("circumstances", "factor"),
    [
        (Circumstances(is_laser_cut=True), EVEN.laser_cut),
        (Circumstances(is_misaligned=True), EVEN.misaligned),
        (Circumstances(is_dry=True), EVEN.dry),
        (Circumstances(is_bad_lot=True), EVEN.bad_lot),
        (Circumstances(regrinds=2), Factor(EVEN.each_regrind.wear**2, EVEN.each_regrind.breakage**2)),
    ],
)
def test_circumstances_multiply_the_scales(circumstances: Circumstances, factor: Factor) -> None:
    """Each shortens both lives by its factor."""
    plain = EVEN.life(M8, shop.STRUCTURAL, SPEED_M_MIN)
    harsh = EVEN.life(M8, shop.STRUCTURAL, SPEED_M_MIN, circumstances)
    assert factor.wear == pytest.approx(harsh.wear.scale / plain.wear.scale)
    assert factor.breakage == pytest.approx(harsh.breakage.scale / plain.breakage.scale)


def test_a_tap_that_came_used_had_survived() -> None:
    """Taps first seen at some age are the ones that lasted so long: none is worn or broken."""
    rng, life = seeded(5), EVEN.life(M8, shop.STAINLESS, SPEED_M_MIN)
    seen = [draw_used_life(rng, EVEN, M8, life, 100) for _ in range(200)]
    assert all(hidden.wear_used < hidden.wear_limit and hidden.break_used < hidden.break_limit for hidden in seen)


@pytest.mark.parametrize("mean", [0.0, 0.3, 4.0, 60.0])
def test_poisson_counts_have_the_mean_and_variance_of_their_law(mean: float) -> None:
    """Both equal the parameter, within four standard errors of 4,000 draws."""
    rng, many_draws = seeded(8), 4000
    draws = [poisson(rng, mean) for _ in range(many_draws)]
    average = sum(draws) / many_draws
    variance = sum((draw - average) ** 2 for draw in draws) / many_draws
    assert mean == pytest.approx(average, abs=4 * (mean / many_draws) ** 0.5)
    assert mean == pytest.approx(variance, rel=0.15)
