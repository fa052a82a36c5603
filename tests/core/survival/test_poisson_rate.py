from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, poisson

from shopfloor.core.errors import InputError
from shopfloor.core.survival.poisson_rate import poisson_limits, rate_per_1000
from tests.published.life import case, table

COUNTS = st.integers(0, 10**6)
LEVELS = st.floats(0.01, 0.999)


@pytest.mark.parametrize("row", table("rates_poisson_limits.csv"), ids=lambda row: row["count"])
@pytest.mark.parametrize("percent", [90, 95, 99])
def test_published_limits(row: dict[str, str], percent: int) -> None:
    """Garwood 1936; NIST/SEMATECH e-Handbook 8.4.5.1."""
    known = float(row[f"lower{percent}"]), float(row[f"upper{percent}"])
    assert known == pytest.approx(poisson_limits(int(row["count"]), percent / 100), abs=1e-5)


def test_printed_limits() -> None:
    """As printed for counts of 0, 10 and 25."""
    printed = case("rates", "poisson-exact-limits")["published"]
    assert printed["k0_upper95"] == pytest.approx(poisson_limits(0, 0.95)[1], abs=5e-4)
    assert printed["k10_95"] == pytest.approx(poisson_limits(10, 0.95), abs=5e-3)
    assert printed["k25_99"] == pytest.approx(poisson_limits(25, 0.99), abs=5e-3)


def test_15_events_in_400_holes() -> None:
    """R packages DescTools and exactci: exact interval."""
    rate = rate_per_1000(15, 400, 0.95)
    known = [1000 * end for end in case("rates", "poisson-rate-r-desctools")["expected"]["exact"]]
    assert known == pytest.approx([rate.lower, rate.upper], rel=1e-9)
    assert (15, 400, 37.5, 0.95) == (rate.events, rate.holes, rate.per_1000, rate.level)


@given(COUNTS, LEVELS)
def test_agrees_with_scipy(events: int, level: float) -> None:
    """By chi-square quantiles; below, no limit for 0."""
    tail = (1 - level) / 2
    lower = chi2.ppf(tail, 2 * events) / 2 if events else 0
    assert (lower, chi2.isf(tail, 2 * events + 2) / 2) == pytest.approx(poisson_limits(events, level), rel=1e-8)


@given(st.integers(1, 1000), LEVELS)
def test_each_tail_holds_half_the_rest(events: int, level: float) -> None:
    """What exact means: at each limit the count seen is just not improbable."""
    lower, upper = poisson_limits(events, level)
    assert (1 - level) / 2 == pytest.approx(poisson.sf(events - 1, lower), rel=1e-6)
    assert (1 - level) / 2 == pytest.approx(poisson.cdf(events, upper), rel=1e-6)


def test_no_events_still_has_an_upper_limit() -> None:
    """Nothing in 1,000 holes: from 0 to 2.996 at 90 %, two-sided."""
    rate = rate_per_1000(0, 1000)
    assert (0, 0) == (rate.per_1000, rate.lower)
    assert pytest.approx(2.996, abs=5e-4) == rate.upper


@pytest.mark.parametrize(
    ("events", "holes", "level", "field"),
    [
        (-1, 10, 0.9, "events"),
        (1.5, 10, 0.9, "events"),
        (math.nan, 10, 0.9, "events"),
        (math.inf, 10, 0.9, "events"),
        (1e300, 10, 0.9, "events"),
        (1, 1e300, 0.9, "holes"),
        (1, 0, 0.9, "holes"),
        (1, -10, 0.9, "holes"),
        (1, math.nan, 0.9, "holes"),
        (1, math.inf, 0.9, "holes"),
        (1, 10, 1.0, "level"),
        (1, 10, 0.0, "level"),
    ],
)
def test_what_gives_no_rate_is_refused(events: float, holes: float, level: float, field: str) -> None:
    """The error names the argument."""
    with pytest.raises(InputError, match=field):
        rate_per_1000(events, holes, level)
