from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.observations import Lives
from shopfloor.core.regression import fit_regression
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
