"""What holds whatever the lives are: of one group's fit, its curves and its bounds."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.survival.cumulative_incidence import cumulative_incidence
from shopfloor.core.survival.survival_curve import SurvivalCurve, survival_curve
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from tests.core.random_lives import AGES, Life, lives_from, mixed_lives, one_life

INF = math.inf
SEEDS = st.integers(0, 10**6)
METHODS = st.sampled_from(["calibrated", "profile"])
EXACT = st.lists(st.tuples(st.integers(1, 600), st.booleans()), min_size=1, max_size=15)


def exact(rows: list[tuple[int, bool]]) -> Lives:
    """Failures at known holes, and survivors."""
    return Lives.of([age for age, _ in rows], [age if failed else INF for age, failed in rows])


def with_survivor(lives: Lives, age: float) -> Lives:
    """The lives and one tap more that is still good."""
    return Lives.of([*lives.lower, age], [*lives.upper, INF], [*lives.entry, 0], count=[*lives.count, 1])


def still_good(curve: SurvivalCurve, ages: FloatArray) -> FloatArray:
    """The step curve's values at ages."""
    return np.concatenate([[1.0], curve.survival])[np.searchsorted(curve.ages, ages, side="right")]


@given(EXACT, st.integers(1, 700))
def test_a_survivor_never_lowers_the_curve(rows: list[tuple[int, bool]], age: int) -> None:
    """Non-parametric: at no age are fewer taps still good for knowing one more that was."""
    lives, ages = exact(rows), np.arange(0.0, 701.0, 7)
    before, after = survival_curve(lives), survival_curve(with_survivor(lives, age))
    assert np.all(still_good(after, ages) >= still_good(before, ages) - 1e-12)


@given(SEEDS, st.floats(1.0, 5.0), METHODS)
def test_a_survivor_older_than_all_never_lowers_life(seed: int, times: float, method: str) -> None:
    """Scale and median rise. A young survivor may lower them by a little, as it makes the shape steeper."""
    lives = mixed_lives(seed, 12)
    oldest = float(np.where(lives.is_failure, lives.upper, lives.lower).max())
    one, other = (fit_weibull(known, interval=method) for known in (lives, with_survivor(lives, times * oldest)))
    if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
        assert other.weibull.scale >= one.weibull.scale * (1 - 1e-9)
        assert other.life(0.5) >= one.life(0.5) * (1 - 1e-9)


@given(st.lists(st.tuples(AGES, st.sampled_from([1, 2, 10**9])), min_size=1, max_size=8), METHODS)
def test_all_censored_gives_a_bound(rows: list[tuple[float, int]], method: str) -> None:
    """No fit, but a lower bound of lives, whatever the ages and however many taps; with the reason."""
    lives = Lives.of([age for age, _ in rows], [INF] * len(rows), count=[count for _, count in rows])
    fit = fit_weibull(lives, interval=method)
    assert isinstance(fit, NotEnoughData)
    assert ("no failure yet", None) == (fit.reason, fit.life(0.1))
    assert 0 < fit.life_interval(0.1)[0] <= fit.scale_interval[0] < INF
    assert 0 <= fit.risk(100, 50).upper <= 1
    assert [] == list(survival_curve(lives).ages)


@given(st.floats(0.3, 20.0), st.integers(3, 40), st.floats(1e-3, 1e9), SEEDS, METHODS)
def test_any_shape_up_to_20_is_fitted(shape: float, n: int, scale: float, seed: int, method: str) -> None:
    """Flat or steep, in any unit: an estimate within its intervals, all of them numbers; or a reason and a bound."""
    ages = np.maximum(scale * np.random.default_rng(seed).weibull(shape, n), 1e-12)
    fit = fit_weibull(Lives.of(ages, ages), interval=method)
    low, high = fit.shape_interval
    assert 0 <= low < high
    if isinstance(fit, WeibullFit):
        assert low < fit.weibull.shape < high
        assert fit.scale_interval[0] < fit.weibull.scale < fit.scale_interval[1]
        assert math.isfinite(fit.log_likelihood)
    else:
        assert fit.reason


@settings(max_examples=20)
@given(st.lists(one_life(), min_size=1, max_size=8), st.sampled_from([1e-3, 25.4, 1e3]))
def test_curves_scale_with_the_unit(rows: list[Life], factor: float) -> None:
    """Threaded length for holes: the same shares, at the ages times the factor."""
    lives = lives_from(rows)
    scaled = Lives(lives.lower * factor, lives.upper * factor, lives.entry * factor, lives.mode, lives.count)
    one, other = survival_curve(lives), survival_curve(scaled)
    assert list(one.ages * factor) == pytest.approx(list(other.ages))
    for part in ("survival", "lower", "upper"):
        assert list(getattr(one, part)) == pytest.approx(list(getattr(other, part)), abs=1e-9)


@settings(max_examples=25)
@given(st.lists(one_life(), min_size=1, max_size=8), st.randoms(use_true_random=False))
def test_curves_know_no_order(rows: list[Life], random: Any) -> None:
    """Survival and incidence of the same lives in any order, and counted or one by one."""
    shuffled = [row for row in rows for _ in range(min(int(row[3]), 2))]
    rows = [(low, up, entry, min(count, 2)) for low, up, entry, count in rows]
    shuffled = [(low, up, entry, 1) for low, up, entry, _ in shuffled]
    random.shuffle(shuffled)
    one, other = (survival_curve(lives_from(told)) for told in (rows, shuffled))
    assert list(one.survival) == pytest.approx(list(other.survival), abs=1e-9)
    failed, also = (cumulative_incidence(lives_from(told)) for told in (rows, shuffled))
    assert list(failed.by_mode[""]) == pytest.approx(list(also.by_mode[""]), abs=1e-9)
