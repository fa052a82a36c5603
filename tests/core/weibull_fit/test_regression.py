from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shopfloor.core.errors import InputError, NotConverged
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.regression import fit_regression
from tests.core.random_lives import mixed_lives
from tests.published.life import case, table

INF = math.inf
NUMBERS = {"log_voltage": lambda row: math.log(float(row["voltage"]))}


def known_rows(name: str) -> tuple[dict[str, Any], list[str], list[dict[str, str]]]:
    """A published case, its covariates, and the rows in which all are known."""
    published = case("life", name)
    names = [covariate.split(" ")[0] for covariate in published["data"]["covariates"]]
    rows = table(published["data"]["file"])
    return published, names, [row for row in rows if all(row.get(name, "0") not in ("", "NA") for name in names)]


def lives_in(rows: list[dict[str, str]]) -> Lives:
    """Failures and survivors; without a status all have failed."""
    ages = [float(row["time"]) for row in rows]
    return Lives.of(ages, [age if row.get("status", "1") == "1" else INF for age, row in zip(ages, rows, strict=True)])


def columns(rows: list[dict[str, str]], names: list[str]) -> np.ndarray:
    """The covariates as a table."""
    return np.array([[NUMBERS.get(name, lambda r, n=name: float(r[n]))(row) for name in names] for row in rows])


@pytest.mark.parametrize("name", ["lung-sex-age-ecog", "capacitor-temp-voltage", "insulating-fluid-power-law"])
def test_published_regressions(name: str) -> None:
    """Coefficients, errors, sigma and log-likelihood; each case names its source."""
    published, names, rows = known_rows(name)
    expected, fit = published["expected"], fit_regression(lives_in(rows), columns(rows, names))
    assert [expected["coef"][key] for key in ("Intercept", *names)] == pytest.approx(fit.coefficients, rel=1e-6)
    assert [expected["se"][key] for key in ("Intercept", *names)] == pytest.approx(fit.standard_errors[:-1], rel=1e-5)
    assert expected["sigma"] == pytest.approx(1 / fit.shape, rel=1e-6)
    assert expected["se_log_sigma"] == pytest.approx(fit.standard_errors[-1], rel=1e-5)
    assert expected["loglik"] == pytest.approx(fit.log_likelihood, rel=1e-7)


def test_agrees_with_lifelines_on_mixed_lives() -> None:
    """Intervals and part-used taps: never a lower log-likelihood than lifelines finds, and nearly the same."""
    lifelines = pytest.importorskip("lifelines")
    pandas = pytest.importorskip("pandas")
    lives, speed = mixed_lives(4, 120), np.random.default_rng(1).normal(size=120)[: len(mixed_lives(4, 120))]
    fit = fit_regression(lives, speed[:, None])
    frame = pandas.DataFrame({"low": lives.lower, "high": lives.upper, "entry": lives.entry, "speed": speed})
    fitter = lifelines.WeibullAFTFitter().fit_interval_censoring(frame, "low", "high", entry_col="entry")
    assert fitter.log_likelihood_ == pytest.approx(fit.log_likelihood, rel=1e-6)
    assert fit.log_likelihood >= fitter.log_likelihood_ - 1e-8


def drawn(seed: int) -> tuple[Lives, np.ndarray]:
    """Lives that halve with each unit of the covariate."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(-1, 1, 40)
    life, stop = 400 * 0.5**x * rng.weibull(2.5, 40), rng.uniform(100, 900, 40)
    return Lives.of(np.minimum(life, stop), np.where(life <= stop, life, INF)), x[:, None]


@given(st.integers(0, 10**6), st.floats(0.01, 100), st.floats(-50, 50))
def test_units_of_a_covariate_do_not_matter(seed: int, factor: float, shift: float) -> None:
    """Speed in other units: the coefficient changes by the factor, nothing else does."""
    lives, x = drawn(seed)
    one, other = fit_regression(lives, x), fit_regression(lives, factor * x + shift)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-9)
    assert one.coefficients[1] == pytest.approx(factor * other.coefficients[1], rel=1e-4, abs=1e-7)
    assert one.shape == pytest.approx(other.shape, rel=1e-5)


def test_a_known_effect_is_recovered() -> None:
    """Lives that halve: log 2 within three standard errors."""
    fit = fit_regression(*drawn(3))
    assert -math.log(2) == pytest.approx(fit.coefficients[1], abs=3 * fit.standard_errors[1])


@pytest.mark.parametrize(
    ("covariates", "field"),
    [([[1.0]], "covariates"), ([[1.0], [1.0], [1.0], [1.0]], "covariates"), ([[1.0], [2.0], [3.0], [math.nan]], "cov")],
)
def test_covariates_are_checked(covariates: list[list[float]], field: str) -> None:
    """Wrong length, one that does not vary, no number."""
    with pytest.raises(InputError, match=field):
        fit_regression(Lives.of([1, 2, 3, 4], [1, 2, 3, 4]), covariates)


def test_failures_must_be_enough() -> None:
    """Two more than covariates."""
    with pytest.raises(InputError, match="too few failures"):
        fit_regression(Lives.of([1, 2, 3, 4], [1, 2, INF, INF]), [[1.0], [2.0], [3.0], [5.0]])


def profile(lives: Lives, x: np.ndarray, coefficient: float) -> float:
    """The highest log-likelihood with the first coefficient held, found a slow way: lives stretched back by it."""
    back = np.exp(-coefficient * x[:, 0])
    stretched = Lives.of(lives.lower * back, lives.upper * back, lives.entry * back)
    others = x[:, 1:]
    fit = fit_regression(stretched, others)
    return fit.log_likelihood + float(np.log(back[lives.is_exact]).sum())


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_intervals_ends_are_where_the_profile_says(seed: int) -> None:
    """The drop of the log-likelihood there is the one for so many failures, for exact, interval and part-used lives."""
    lives = mixed_lives(seed, 80)
    rng = np.random.default_rng(seed)
    x = np.column_stack([rng.normal(size=len(lives)), rng.uniform(size=len(lives))])
    fit, level = fit_regression(lives, x), 0.9
    free = lives.failures - 3
    drop = lives.failures * math.log1p(stats.t.ppf((1 + level) / 2, free) ** 2 / free) / 2
    ends = fit.interval(1, level)
    assert ends[0] < fit.coefficients[1] < ends[1]
    for end in ends:
        assert fit.log_likelihood - profile(lives, x, end) == pytest.approx(drop, rel=1e-4)


def test_many_failures_make_an_interval_the_usual_one() -> None:
    """2,000 failures: normal to a few per cent."""
    rng = np.random.default_rng(5)
    x = rng.uniform(-1, 1, 2000)
    life = 400 * 0.5**x * rng.weibull(2.5, 2000)
    fit = fit_regression(Lives.of(life, life), x[:, None])
    reach = stats.norm.ppf(0.95) * fit.standard_errors[1]
    assert (fit.coefficients[1] - reach, fit.coefficients[1] + reach) == pytest.approx(fit.interval(1, 0.9), abs=0.003)


@given(st.integers(0, 10**6), st.floats(0.01, 100), st.floats(-50, 50))
def test_an_interval_follows_the_units_of_its_covariate(seed: int, factor: float, shift: float) -> None:
    """Speed in other units changes both ends by the factor."""
    lives, x = drawn(seed)
    one, other = fit_regression(lives, x).interval(1, 0.9), fit_regression(lives, factor * x + shift).interval(1, 0.9)
    assert one == pytest.approx((factor * other[0], factor * other[1]), rel=1e-3, abs=1e-5)


def test_an_effect_that_the_lives_hardly_bound_is_told_as_such() -> None:
    """No tap has failed with the covariate at 1: it may last hundreds of times as long, or for ever."""
    lives = Lives.of([100, 120, 150, 90, 130, 300, 310, 290], [100, 120, 150, 90, 130, INF, INF, INF])
    low, high = fit_regression(lives, np.array([0, 0, 0, 0, 0.1, 1, 1, 1])[:, None]).interval(1, 0.9)
    assert 0 < low < 3
    assert high > math.log(200)


@pytest.mark.parametrize("taps", [12, 30])
def test_intervals_hold_their_level_with_few_failures(taps: int) -> None:
    """300 shops, a third of the taps still good: in 90 % but for chance, and in more than plain normal intervals."""
    rng, held, plain, known = np.random.default_rng(8), 0, 0, 0
    for _ in range(300):
        x = np.column_stack([rng.integers(0, 2, taps), rng.uniform(-1, 1, taps)])
        life = 400 * np.exp(x @ [-0.7, -0.7]) * rng.weibull(2.0, taps)
        stop = rng.uniform(0, 1000, taps)
        try:
            fit = fit_regression(Lives.of(np.minimum(life, stop), np.where(life <= stop, life, INF)), x)
        except (InputError, NotConverged):
            continue
        known += 1
        low, high = fit.interval(1, 0.9)
        held += low <= -0.7 <= high
        plain += abs(fit.coefficients[1] + 0.7) <= 1.645 * fit.standard_errors[1]
    assert 0.90 == pytest.approx(held / known, abs=0.05)
    assert held > plain
