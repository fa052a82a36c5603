from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_modes, fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from tests.core.random_lives import Life, any_lives, lives_from, mixed_lives, one_life
from tests.published.life import case, lives_of, lives_with_causes

INF = math.inf

PUBLISHED = [
    "nist-8.4.1.2",
    "shock-absorber",
    "diesel-fan",
    "bearing-cage",
    "ball-bearing",
    "abernethy-c5",
    "bearing-a-few-failures",
    "part-cracking",
    "turbine-wheel-current-status",
    "mixed-log-1",
    "macs-aids",
    "lung-intercept-only",
]


def fitted(lives: Lives, level: float = 0.90, interval: str = "profile") -> WeibullFit:
    """A fit that is expected to be one."""
    fit = fit_weibull(lives, level, interval)
    assert isinstance(fit, WeibullFit), fit
    return fit


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_estimates(name: str) -> None:
    """Shape, scale, log-likelihood and life at 10 % of published examples; each case names its source."""
    published = case("life", name)
    expected, fit = published["expected"], fitted(lives_of(published["data"]))
    assert expected["beta"] == pytest.approx(fit.weibull.shape, rel=1e-6)
    assert expected["eta"] == pytest.approx(fit.weibull.scale, rel=1e-6)
    assert expected["loglik"] == pytest.approx(fit.log_likelihood, rel=1e-7)
    assert expected["b10"] == pytest.approx(fit.life(0.1), rel=1e-6)


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_likelihood_intervals(name: str) -> None:
    """95 % likelihood-ratio intervals of shape, scale and life at 10 %."""
    published = case("life", name)
    expected, fit = published["expected"], fitted(lives_of(published["data"]), 0.95)
    assert expected["beta_ci95_lr"] == pytest.approx(list(fit.shape_interval), rel=1e-6)
    assert expected["eta_ci95_lr"] == pytest.approx(list(fit.scale_interval), rel=1e-6)
    assert expected["b10_ci95_lr"] == pytest.approx(list(fit.life_interval(0.1)), rel=1e-6)


def test_most_likely_is_not_rank_regression() -> None:
    """Abernethy, figure 2-5: the printed pair (2.024, 94.998) is median-rank regression, not maximum likelihood."""
    published = case("life", "abernethy-fig2-5-rank-regression")
    failures, survivors = published["data"]["failures"], published["data"]["right_censored"]
    fit = fitted(Lives.of([*failures, *survivors], [*failures, *[INF] * len(survivors)]))
    assert published["expected"]["mle"] == pytest.approx([fit.weibull.shape, fit.weibull.scale], rel=1e-6)


def test_printed_estimates() -> None:
    """As printed: NIST/SEMATECH e-Handbook 8.4.1.2 and Nelson 1982, p. 133."""
    assert (1.7207, 606.528) == pytest.approx(shape_and_scale("nist-8.4.1.2"), rel=1e-3)
    assert (1.0584, 26297) == pytest.approx(shape_and_scale("diesel-fan"), rel=1e-3)


def shape_and_scale(name: str) -> tuple[float, float]:
    """The fit of a published case."""
    weibull = fitted(lives_of(case("life", name)["data"])).weibull
    return weibull.shape, weibull.scale


@pytest.mark.parametrize("name", ["device-g", "shock-absorber-modes"])
def test_published_modes(name: str) -> None:
    """Competing modes, Meeker & Escobar 1998, section 15.4: other modes are survival until then."""
    published = case("life", name)
    fits = fit_modes(lives_with_causes(published["data"]), interval="profile")
    for mode, expected in published["expected"]["cause_specific_weibull"].items():
        fit = fits[mode]
        assert isinstance(fit, WeibullFit)
        assert expected["beta"] == pytest.approx(fit.weibull.shape, rel=1e-6)
        assert expected["eta"] == pytest.approx(fit.weibull.scale, rel=1e-6)
        assert expected["loglik"] == pytest.approx(fit.log_likelihood, rel=1e-7)


def test_modes_that_never_occurred_can_be_asked_for() -> None:
    """A mode without failures has a bound, like any group without failures."""
    fits = fit_modes(Lives.of([50, 90, 60], [50, 90, INF], mode=["break", "break", ""]), modes=["break", "wear"])
    assert [True, False] == [fits[mode].sure for mode in ("break", "wear")]


def test_ignoring_truncation_would_bias() -> None:
    """The same lives taken as followed from new give the other published answer."""
    published = case("life", "macs-aids")
    lives = lives_of(published["data"])
    naive = fitted(Lives(lives.lower, lives.upper, 0 * lives.entry, lives.mode, lives.count))
    expected = published["ignoring_truncation"]
    assert (expected["beta"], expected["eta"]) == pytest.approx((naive.weibull.shape, naive.weibull.scale), rel=1e-6)


ENOUGH: list[tuple[str, list[Life]]] = [
    ("one failure and survivors beyond it", [(100, 100, 0, 1), (200, INF, 0, 2)]),
    ("lives of 10^9 holes", [(1e9, 1e9, 1e9 - 1, 1), (5e8, 5e8, 0, 1), (2e9, 2e9, 0, 1), (1e9, INF, 0, 1)]),
    ("many alike", [(100, 100, 0, 10**8), (200, 200, 0, 10**8), (300, INF, 0, 10**9)]),
    ("intervals only", [(100, 150, 0, 1), (200, 250, 0, 1), (50, INF, 0, 1)]),
    ("all part-used", [(100, 100, 90, 1), (200, 200, 190, 1), (300, 300, 290, 1)]),
    ("one failure a hole after the other", [(500, 500, 0, 1), (501, 501, 0, 1), (502, INF, 0, 1)]),
]

LACKING: list[tuple[str, list[Life]]] = [
    ("no failure yet", [(100, INF, 0, 1), (200, INF, 0, 1)]),
    ("no failure yet", []),
    ("all could have come at one age", [(300, 300, 0, 1), (200, INF, 0, 2)]),
    ("all could have come at one age", [(100, 100, 0, 5)]),
    ("all could have come at one age", [(100, 150, 0, 1), (110, 160, 0, 1), (50, INF, 0, 1)]),
    ("all could have come at one age", [(1e9, 1e9, 0, 1), (1e9 + 1, 1e9 + 1, 0, 1)]),
    ("failed before it was first looked at", [(0, 100, 0, 1), (0, 200, 0, 1)]),
    ("how often young taps fail", [(0, 100, 0, 1), (0, 200, 0, 1), (300, INF, 0, 1)]),
    ("how often young taps fail", [(100, 100, 90, 1), (200, 200, 190, 1), (300, 300, 290, 1), (350, INF, 300, 1)]),
]


@pytest.mark.parametrize(("name", "rows"), ENOUGH, ids=[name for name, _ in ENOUGH])
def test_awkward_lives_are_fitted(name: str, rows: list[Life]) -> None:
    """There is a maximum: no distribution nearby is more likely, and the intervals hold the estimates."""
    fit = fitted(lives_from(rows))
    likelihood = fit.region.likelihood
    log_shape, c = likelihood.parameters(fit.weibull)
    around = [likelihood.value(log_shape + i, c + j) for i in (-0.01, 0, 0.01) for j in (-0.01, 0, 0.01)]
    assert fit.log_likelihood >= max(around) - 1e-9 * abs(fit.log_likelihood)
    assert fit.shape_interval[0] < fit.weibull.shape < fit.shape_interval[1]
    assert fit.scale_interval[0] < fit.weibull.scale < fit.scale_interval[1]


@pytest.mark.parametrize(("reason", "rows"), LACKING)
def test_too_little_is_a_result_of_its_own(reason: str, rows: list[Life]) -> None:
    """It says why there is no fit, what would be enough, and which bounds hold: no exception, no NaN."""
    fit = fit_weibull(lives_from(rows), interval="profile")
    assert isinstance(fit, NotEnoughData)
    assert reason in fit.reason
    assert fit.enough
    assert fit.life(0.1) is None
    assert 0 <= fit.life_interval(0.1)[0] <= fit.scale_interval[0] < fit.scale_interval[1] == INF


def test_shape_up_to_20() -> None:
    """Very steep wear is fitted like any other: 200 lives of a known distribution."""
    ages = 500 * np.random.default_rng(3).weibull(20, 200)
    low, high = fitted(Lives.of(ages, ages)).shape_interval
    assert low < 20 < high


@pytest.mark.parametrize("level", [0, 1, -0.5, 1.5, math.nan])
def test_levels_are_checked(level: float) -> None:
    """The error names the level."""
    with pytest.raises(InputError, match=r"^level"):
        fit_weibull(Lives.of([1], [1]), level)


def test_methods_are_checked() -> None:
    """Only intervals that exist can be asked for."""
    with pytest.raises(InputError, match=r"^interval"):
        fit_weibull(Lives.of([1], [1]), interval="wald")


@pytest.mark.parametrize("p", [0, 1, -1, math.nan])
def test_shares_are_checked(p: float) -> None:
    """The error names the share."""
    with pytest.raises(InputError, match=r"^p"):
        fitted(lives_from(ENOUGH[0][1])).life_interval(p)


def figures(lives: Lives) -> list[float]:
    """Every number that a result offers, each checked to be a number."""
    fit = fit_weibull(lives)
    risk, band = fit.risk(100, 50), fit.survival_band([0, 10, 1000, 1e9])
    shown: list[Any] = [*fit.shape_interval, *fit.scale_interval, *fit.life_interval(0.1)]
    shown += [risk.lower, risk.upper, *band.lower, *band.upper]
    if isinstance(fit, WeibullFit):
        shown += [fit.weibull.shape, fit.weibull.scale, fit.log_likelihood, risk.value]
    return [float(number) for number in shown]


@given(any_lives)
def test_any_valid_lives_give_numbers(lives: Lives) -> None:
    """Nothing crashes, warns, or is not a number."""
    assert not any(math.isnan(number) for number in figures(lives))


@given(any_lives)
def test_estimates_lie_within_their_intervals(lives: Lives) -> None:
    """Shape, scale, life, survival and risk alike."""
    fit = fit_weibull(lives)
    if isinstance(fit, WeibullFit):
        risk, band = fit.risk(100, 50), fit.survival_band([20, 500])
        assert fit.shape_interval[0] <= fit.weibull.shape <= fit.shape_interval[1]
        assert fit.scale_interval[0] <= fit.weibull.scale <= fit.scale_interval[1]
        assert fit.life_interval(0.1)[0] <= fit.life(0.1) <= fit.life_interval(0.1)[1]
        assert risk.value is not None
        assert risk.lower - 1e-12 <= risk.value <= risk.upper + 1e-12
        assert band.survival is not None
        assert np.all((band.lower - 1e-12 <= band.survival) & (band.survival <= band.upper + 1e-12))


def close(change: Callable[[WeibullFit], tuple[float, float]], one: WeibullFit, other: WeibullFit) -> bool:
    """Whether two fits agree in a pair of numbers."""
    return change(one) == pytest.approx(change(other), rel=1e-5)


SEEDS = st.integers(0, 10**6)


@given(SEEDS, st.floats(1e-3, 1e6))
def test_scaling_lives_scales_life_and_nothing_else(seed: int, factor: float) -> None:
    """Threaded length instead of holes, say: same shape, scale times the factor."""
    lives = mixed_lives(seed, 15)
    scaled = Lives(lives.lower * factor, lives.upper * factor, lives.entry * factor, lives.mode, lives.count)
    one, other = fit_weibull(lives), fit_weibull(scaled)
    assert one.sure == other.sure
    if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
        assert close(lambda fit: fit.shape_interval, one, other)
        assert one.weibull.shape == pytest.approx(other.weibull.shape, rel=1e-6)
        assert one.weibull.scale * factor == pytest.approx(other.weibull.scale, rel=1e-6)


@given(SEEDS, st.randoms(use_true_random=False))
def test_order_does_not_matter(seed: int, random: Any) -> None:
    """Lives come in any order."""
    lives = mixed_lives(seed, 15)
    order = list(range(len(lives)))
    random.shuffle(order)
    shuffled = Lives.of(lives.lower[order], lives.upper[order], lives.entry[order])
    assert figures(lives) == pytest.approx(figures(shuffled), rel=1e-4, abs=1e-9)


@given(st.lists(one_life(), min_size=1, max_size=6), st.integers(2, 4))
def test_a_count_is_so_many_copies(rows: list[Life], times: int) -> None:
    """count = k in one row and k equal rows say the same."""
    counted = lives_from([(low, high, entry, times) for low, high, entry, _ in rows])
    copied = lives_from([(low, high, entry, 1) for low, high, entry, _ in rows] * times)
    one, other = fit_weibull(counted), fit_weibull(copied)
    assert (one.evidence.taps, one.evidence.failures, one.sure) == (
        other.evidence.taps,
        other.evidence.failures,
        other.sure,
    )
    if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
        assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-9, abs=1e-9)


@given(SEEDS, st.floats(0.5, 3))
def test_a_survivor_never_lowers_the_mean_time_per_failure(seed: int, age: float) -> None:
    """With the shape held, one more survivor raises the scale."""
    lives = mixed_lives(seed, 15)
    more = Lives.of([*lives.lower, 400 * age], [*lives.upper, INF], [*lives.entry, 0])
    one, other = fit_weibull(lives), fit_weibull(more)
    if isinstance(one, WeibullFit) and isinstance(other, WeibullFit):
        shape = np.array([one.weibull.shape])
        before, after = (fit.region.likelihood for fit in (one, other))
        c_before, c_after = float(before.at(shape).mode()[0]), float(after.at(shape).mode()[0])
        scale_before = before.weibull(math.log(shape[0]), c_before).scale
        assert after.weibull(math.log(shape[0]), c_after).scale > scale_before


@given(SEEDS)
def test_a_survivor_never_lowers_the_bound(seed: int) -> None:
    """Without failures, each further tap still good raises the bound of its life."""
    ages = np.random.default_rng(seed).uniform(1, 500, 6)
    bounds = [fit_weibull(Lives.of(ages[:n], [INF] * n)).life_interval(0.1)[0] for n in range(7)]
    assert bounds == sorted(bounds)


def test_intervals_narrow_with_more_lives() -> None:
    """Ten times the evidence: about a third of the width."""
    lives = mixed_lives(5, 40)
    few, many = fitted(lives), fitted(Lives(lives.lower, lives.upper, lives.entry, lives.mode, 10 * lives.count))
    widths = [math.log(fit.shape_interval[1] / fit.shape_interval[0]) for fit in (few, many)]
    assert 0.25 < widths[1] / widths[0] < 0.4
