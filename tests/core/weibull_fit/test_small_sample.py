"""The numbers of the adjustment against integrals and simulation: means and variances of signed roots."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import gammaln, polygamma

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.grouped_likelihood import GroupedLikelihood
from shopfloor.core.weibull_fit.likelihood import Likelihood
from shopfloor.core.weibull_fit.small_sample import (
    ALL_FAIL_LONG,
    ALL_FAIL_STEEP,
    CALIBRATED,
    FEW_FAIL_LONG,
    FEW_FAIL_STEEP,
    INTERVAL_STEEP,
    PLAIN,
    WIDENING,
)
from tests.core.random_lives import mixed_lives

INF = math.inf
SEEDS = st.integers(0, 10**6)


def root(failures: FloatArray, hazard: FloatArray) -> FloatArray:
    """Signed root of the deviance of the true rate of exponential lives; positive: the true life is longer.

    `hazard` is the cumulative hazard of the lives, at the true rate.
    """
    drop = failures * np.log(failures / hazard) - failures + hazard
    return np.sign(failures - hazard) * np.sqrt(2 * np.maximum(drop, 0.0))


def mean_over_gamma(r: int, of: Callable[[float], float]) -> float:
    """Mean over a gamma distribution with r failures."""
    return float(quad(lambda m: of(m) * math.exp((r - 1) * math.log(m) - m - gammaln(r)), 1e-9, 20 * r, limit=200)[0])


def one_root(r: int) -> Callable[[float], float]:
    """The root at r failures, as a function of the cumulative hazard."""
    return lambda m: float(root(np.array([float(r)]), np.array([m]))[0])


@pytest.mark.parametrize("r", [3, 10, 40])
def test_mean_and_variance_of_the_root_at_a_given_number_of_failures(r: int) -> None:
    """Exponential lives, stopped at the r-th failure: 1/3 over the root of r, and 1 + 1 / (18 r)."""
    mean = mean_over_gamma(r, one_root(r))
    variance = mean_over_gamma(r, lambda m: one_root(r)(m) ** 2) - mean**2
    assert ALL_FAIL_LONG == pytest.approx(mean * math.sqrt(r), abs=0.01)
    assert r * (variance - 1) == pytest.approx(WIDENING, abs=0.02)


@pytest.mark.parametrize(("age", "taps"), [(0.2, 200), (1.0, 60), (3.0, 40)])
def test_mean_of_the_root_at_a_given_number_of_taps(age: float, taps: int) -> None:
    """Exponential lives, all left at one age: q/2 - 1/6, with q the hazard of those that failed over their number."""
    rng = np.random.default_rng(5)
    life = rng.exponential(size=(100_000, taps))
    hazard, failed = np.minimum(life, age), life < age
    failures = failed.sum(axis=1)
    roots = root(np.maximum(failures, 0.5), hazard.sum(axis=1))
    q = (hazard * failed).sum() / failures.sum()
    mean = float(roots.mean()) * math.sqrt(failures.mean())
    assert q / 2 - 1 / 6 == pytest.approx(mean, abs=0.03)


def test_a_log_does_not_tell_how_it_was_stopped() -> None:
    """Half of each: a given number of failures (1/3) and of taps (q/2 - 1/6), at q = 0 and q = 1."""
    assert FEW_FAIL_LONG == pytest.approx((1 / 3 - 1 / 6) / 2)
    assert ALL_FAIL_LONG == pytest.approx((1 / 3 + 1 / 2 - 1 / 6) / 2)


def test_skewness_of_shapes_where_all_fail() -> None:
    """A third of the third derivative of x - gamma e^x - log Gamma(1 + e^x) over its second to 3/2, at x = 0."""
    second, third = 1 + float(polygamma(1, 2)), -float(polygamma(2, 2)) - 3 * float(polygamma(1, 2)) - 1
    step = 1e-3
    values = [x - np.euler_gamma * math.exp(x) - gammaln(1 + math.exp(x)) for x in step * np.arange(-2, 3)]
    assert -second == pytest.approx((values[1] - 2 * values[2] + values[3]) / step**2, abs=1e-4)
    assert third == pytest.approx((-values[0] / 2 + values[1] - values[3] + values[4] / 2) / step**3, abs=1e-3)
    assert ALL_FAIL_STEEP == pytest.approx(third / 3 / second**1.5, abs=0.001)


def test_skewness_of_shapes_where_few_fail() -> None:
    """r log b - b s less log b, with a gamma distribution: the penalty moves the root by 1, skewness by -1/3."""
    r = 400
    penalised = [
        mean_over_gamma(r, lambda m, k=k: float(root(np.array([r - k]), np.array([m]))[0])) * math.sqrt(r)  # type: ignore[misc]
        for k in (0.0, 1.0)
    ]
    assert [1 / 3, -FEW_FAIL_STEEP] == pytest.approx(penalised, abs=0.01)


def test_the_region_is_less_skewed_with_more_failures() -> None:
    """Over the root of the failures, by how many of the taps failed; no skewness correction for profile likelihood."""
    exact, interval, failed_hazard_share = (
        np.array([4.0, 4.0, 0.0, 50.0]),
        np.array([0.0, 0.0, 4.0, 50.0]),
        np.array([0, 1, 1, 0.5]),
    )
    long, steep = CALIBRATED.signed_root_means(exact, interval, failed_hazard_share)
    assert [FEW_FAIL_LONG / 2, 1 / 6, 1 / 6, (FEW_FAIL_LONG + 1 / 3) / 20] == pytest.approx(list(long))
    ends = [FEW_FAIL_STEEP / 2, ALL_FAIL_STEEP / 2, (ALL_FAIL_STEEP + INTERVAL_STEEP) / 2]
    assert [*ends, (FEW_FAIL_STEEP + ALL_FAIL_STEEP + INTERVAL_STEEP) / 20] == pytest.approx(list(steep))
    assert not np.any(PLAIN.signed_root_means(exact, interval, failed_hazard_share))


def test_the_hazard_share_is_1_where_every_tap_failed() -> None:
    """And decreases with every survivor, by its expected failures."""
    ages = np.array([100.0, 180.0, 260.0, 300.0])
    fit = fit_weibull(Lives.of(ages, ages), interval="profile")
    assert isinstance(fit, WeibullFit)
    assert fit.region.likelihood.failed_hazard_share(fit.region.log_shape, fit.region.c) == pytest.approx(1)
    left = Lives.of([*ages, 150, 150], [*ages, INF, INF])
    more = fit_weibull(left, interval="profile")
    assert isinstance(more, WeibullFit)
    survivors = 2 * float(more.weibull.cumulative_hazard(150.0))
    failed_hazard_share = more.region.likelihood.failed_hazard_share(more.region.log_shape, more.region.c)
    assert failed_hazard_share == pytest.approx(1 - survivors / 4)


def test_the_hazard_share_by_direct_integral_for_interval_failures() -> None:
    """The mean hazard of a tap that failed somewhere in its interval."""
    likelihood = Likelihood(Lives.of([100, 0, 50, 400], [200, 150, 50, INF]))
    distribution = likelihood.weibull(0.5, -1.0)

    def hazard(age: float) -> float:
        return float(distribution.cumulative_hazard(age))

    def mean(start: float, end: float) -> float:
        low, high = hazard(start), hazard(end)
        part = quad(lambda h: h * math.exp(-h), low, high)[0]
        return float(part) / (math.exp(-low) - math.exp(-high))

    expected = (mean(100, 200) + mean(0, 150) + hazard(50)) / 3
    assert expected == pytest.approx(likelihood.failed_hazard_share(0.5, -1.0), rel=1e-9)


@given(SEEDS, st.floats(-1, 2), st.floats(-3, 1))
def test_the_hazard_share_together_is_that_alone(seed: int, log_shape: float, c: float) -> None:
    """One group or many: the same share."""
    parts = [mixed_lives(seed + k, 8 + 4 * k) for k in range(2)]
    columns = ("lower", "upper", "entry", "mode", "count")
    lives = Lives(*(np.concatenate([getattr(part, column) for part in parts]) for column in columns))
    group = np.repeat(np.arange(2), [len(part) for part in parts])
    if all(part.failures and (part.lower > part.entry).any() for part in parts):
        both = GroupedLikelihood(lives, group, 2).failed_hazard_share(np.full(2, log_shape), np.full(2, c))
        assert [Likelihood(part).failed_hazard_share(log_shape, c) for part in parts] == pytest.approx(
            list(both), rel=1e-9
        )


@given(SEEDS, st.floats(0.1, 0.9))
def test_a_life_told_in_parts_is_the_same_life(seed: int, where: float) -> None:
    """Split at any age, as where its condition changes: the same estimates and intervals."""
    lives = mixed_lives(seed, 12)
    k = int(np.argmax(np.where(lives.is_exact, lives.lower, -1)))
    cut = float(lives.entry[k] + where * (lives.lower[k] - lives.entry[k]))
    later = np.where(np.arange(len(lives)) == k, cut, lives.entry)
    split = Lives.of([*lives.lower, cut], [*lives.upper, INF], [*later, lives.entry[k]])
    one, other = fit_weibull(lives), fit_weibull(split)
    assert one.sure == other.sure
    if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
        assert [one.weibull.shape, *one.shape_interval, *one.life_interval(0.1)] == pytest.approx(
            [other.weibull.shape, *other.shape_interval, *other.life_interval(0.1)], rel=1e-5
        )


def test_a_log_that_ended_with_a_failure_counts_as_all_failed() -> None:
    """All others were left at that age: the number of failures was given. Not so where one of them was left earlier."""
    ended, other = ([(100, 100), (200, 200), (200, INF), (last, INF)] for last in (200, 150))
    rows = [np.array(part) for part in (ended, other)]
    alone = [Likelihood(Lives.of(*part.T)).failed_hazard_share(0.5, -1.0) for part in rows]
    lives, group = Lives.of(*np.concatenate(rows).T), np.repeat([0, 1], 4)
    both = GroupedLikelihood(lives, group, 2).failed_hazard_share(np.full(2, 0.5), np.full(2, -1.0))
    assert alone[0] == 1 > alone[1]
    assert alone == pytest.approx(list(both))
