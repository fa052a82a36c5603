from __future__ import annotations

import math

import numpy as np
import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.logrank import compare_lives
from tests.published.life import case, lives_of, table

INF = math.inf


def maintained() -> list[Lives]:
    """Miller 1981 (aml), two groups."""
    data = case("life", "aml-maintenance")["data"]
    return [lives_of(data[group]) for group in ("maintained", "nonmaintained")]


def test_published_log_rank() -> None:
    """Miller 1981: observed, expected, chi-square and p."""
    expected, found = case("life", "aml-maintenance")["expected"]["logrank"], compare_lives(maintained())
    assert expected["observed"] == found.observed.tolist()
    assert expected["expected"] == pytest.approx(found.expected, rel=1e-6)
    assert (expected["chi2"], expected["p"]) == pytest.approx((found.chi_square, found.p_value), rel=1e-6)


def test_published_gehan() -> None:
    """The same lives, early failures counting more."""
    expected = case("life", "aml-maintenance")["expected"]["gehan_wilcoxon"]
    found = compare_lives(maintained(), "Gehan")
    assert (expected["chi2"], expected["p"]) == pytest.approx((found.chi_square, found.p_value), rel=1e-6)


def test_published_log_rank_of_many() -> None:
    """R package survival, survdiff of lung by sex."""
    published = case("life", "lung-logrank-sex")
    rows = table(published["data"]["file"])
    groups = []
    for sex in sorted({row["sex"] for row in rows}):
        of = [row for row in rows if row["sex"] == sex]
        ages = [float(row["time"]) for row in of]
        groups.append(Lives.of(ages, [a if r["status"] == "1" else INF for a, r in zip(ages, of, strict=True)]))
    found = compare_lives(groups)
    assert (published["expected"]["chi2"], published["expected"]["p"]) == pytest.approx(
        (found.chi_square, found.p_value), rel=1e-6
    )


def test_order_of_groups_does_not_matter() -> None:
    """Three groups in any order."""
    rng = np.random.default_rng(2)
    groups = [Lives.of(ages, ages) for ages in (100 * rng.weibull(2, 9), 90 * rng.weibull(2, 8), rng.weibull(2, 7))]
    assert compare_lives(groups).chi_square == pytest.approx(compare_lives(groups[::-1]).chi_square)


@pytest.mark.parametrize(
    "groups",
    [
        [Lives.of([1], [1])],
        [Lives.of([1], [2]), Lives.of([1], [1])],
        [Lives.of([1], [INF]), Lives.of([1], [INF])],
    ],
)
def test_what_cannot_be_compared_is_refused(groups: list[Lives]) -> None:
    """One group, intervals, no failures: the error names the groups."""
    with pytest.raises(InputError, match=r"^groups"):
        compare_lives(groups)
