"""What holds whatever the lives are, with two competing risks: of both fits, their intervals and their risks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import LifeResult, WeibullFit, fit_modes
from tests.core.two_modes import some_lives

INF = math.inf
MODES = ("break", "wear")
SEEDS = st.integers(0, 10**6)
METHODS = st.sampled_from(["calibrated", "profile"])


def figures(fit: LifeResult, unit: float = 1.0) -> list[float]:
    """Shape, then ages in the unit of the lives over `unit`, then a risk, each with its interval; open ends as 0."""
    shapes, ages = [*fit.shape_interval], [*fit.scale_interval, *fit.life_interval(0.1)]
    if isinstance(fit, WeibullFit):
        shapes, ages = [*shapes, fit.weibull.shape], [*ages, fit.weibull.scale]
    risk = fit.risk(120 * unit, 50 * unit)
    told = [*shapes, *(age / unit for age in ages), risk.lower, risk.upper]
    return [figure if math.isfinite(figure) else 0.0 for figure in told]


def laws_of(lives: Lives, method: str) -> dict[str, LifeResult]:
    """Both modes, with a fit or not."""
    return fit_modes(lives, interval=method, modes=MODES)


@settings(max_examples=15)
@given(SEEDS, st.sampled_from([1e-3, 25.4, 1e6]), METHODS)
def test_scaling_lives_scales_scales_and_nothing_else(seed: int, factor: float, method: str) -> None:
    """Threaded length for holes: same shapes and risks, ages times the factor, though modes compete in intervals."""
    lives = some_lives(seed, 16)
    scaled = Lives(lives.lower * factor, lives.upper * factor, lives.entry * factor, lives.mode, lives.count)
    one, other = laws_of(lives, method), laws_of(scaled, method)
    for mode in MODES:
        assert one[mode].sure == other[mode].sure
        assert figures(one[mode]) == pytest.approx(figures(other[mode], factor), rel=1e-4, abs=1e-9)


@settings(max_examples=15)
@given(SEEDS, METHODS)
@example(2746, "calibrated")
def test_order_counts_and_names_never_matter(seed: int, method: str) -> None:
    """The lives in any order, alike ones counted or one by one, and the modes by each other's names."""
    lives = some_lives(seed, 16)
    twice = Lives(lives.lower, lives.upper, lives.entry, lives.mode, 2 * lives.count)
    order = np.random.default_rng(seed).permutation(np.repeat(np.arange(len(lives)), 2))
    shuffled = lives.rows(order)
    names = np.where(shuffled.mode == "", "", np.where(shuffled.mode == "break", "wear", "break"))
    renamed = Lives(shuffled.lower, shuffled.upper, shuffled.entry, names, shuffled.count)
    one, other, swapped = (laws_of(seen, method) for seen in (twice, shuffled, renamed))
    for mode, also in zip(MODES, reversed(MODES), strict=True):
        assert figures(one[mode]) == pytest.approx(figures(other[mode]), rel=1e-4, abs=1e-9)
        assert figures(one[mode]) == pytest.approx(figures(swapped[also]), rel=1e-4, abs=1e-9)


@settings(max_examples=15)
@given(SEEDS, st.floats(1.0, 5.0), METHODS)
def test_a_survivor_older_than_all_never_lowers_life(seed: int, times: float, method: str) -> None:
    """Of neither mode: scales and median lives rise, within intervals too."""
    lives = some_lives(seed, 16)
    oldest = float(np.where(lives.is_failure, lives.upper, lives.lower).max())
    more = Lives.of(
        [*lives.lower, times * oldest], [*lives.upper, INF], [*lives.entry, 0], [*lives.mode, ""], [*lives.count, 1]
    )
    before, after = laws_of(lives, method), laws_of(more, method)
    for mode in MODES:
        one, other = before[mode], after[mode]
        if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
            assert other.weibull.scale >= one.weibull.scale * (1 - 1e-6)
            assert other.life(0.5) >= one.life(0.5) * (1 - 1e-6)


EXTREME = [
    ([0, 0], [100, 100], ["break", "wear"], [1, 1]),
    ([0, 100, 100], [100, 200, 200], ["break", "wear", "wear"], [1, 10**9, 10**9]),
    ([1e9 - 50, 1e9, 1e9 + 1], [1e9, 1e9 + 50, INF], ["break", "wear", ""], [3, 3, 1]),
    ([200] * 4, [200, 200, 250, INF], ["break", "wear", "wear", ""], [2, 2, 2, 1]),
    ([500, 500.01, 500, 500], [500.01, 500.02, 500.02, INF], ["break", "break", "wear", ""], [1, 1, 2, 1]),
    ([300], [350], ["wear"], [1]),
]


@pytest.mark.parametrize("method", ["calibrated", "profile"])
@pytest.mark.parametrize("columns", EXTREME)
def test_extreme_lives_give_numbers(
    columns: tuple[list[float], list[float], list[str], list[int]], method: str
) -> None:
    """Ties, 10^9 taps or holes, intervals of a hundredth of a hole, a single life: ordered numbers, no warning."""
    lower, upper, mode, count = columns
    for fit in laws_of(Lives.of(lower, upper, mode=mode, count=count), method).values():
        assert not any(math.isnan(figure) for figure in figures(fit))
        assert 0 <= fit.risk(100, 50).lower <= fit.risk(100, 50).upper <= 1
        assert fit.scale_interval[0] < fit.scale_interval[1]
        if not isinstance(fit, WeibullFit):
            assert fit.reason
            assert fit.enough


@pytest.mark.parametrize("shape", [8.0, 20.0])
def test_steep_wear_beside_breaks_is_found(shape: float) -> None:
    """Wear at nearly one age, breaks at any, all seen at looks 25 holes apart: the intervals hold both shapes."""
    rng = np.random.default_rng(4)
    breaks, wears = 700 * rng.weibull(1.5, 60), 500 * rng.weibull(shape, 60)
    age = np.minimum(breaks, wears)
    lower = np.floor(age / 25) * 25
    lives = Lives.of(lower, lower + 25, mode=np.where(breaks < wears, "break", "wear").tolist())
    fits = fit_modes(lives, level=0.99)
    for mode, truth in (("break", 1.5), ("wear", shape)):
        low, high = fits[mode].shape_interval
        assert low < truth < high
