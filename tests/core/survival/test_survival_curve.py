from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.survival_curve import survival_curve
from shopfloor.core.survival.weibull import Weibull
from tests.core.random_lives import any_lives, mixed_lives
from tests.published.life import case, lives_of

INF = math.inf


def test_delayed_entry() -> None:
    """R package survival, tests/survtest.R: at risk at t means entry < t <= exit."""
    published = case("life", "km-start-stop-r-test2")
    curve = survival_curve(lives_of(published["data"]))
    assert published["expected"]["event_times"] == curve.ages.tolist()
    assert [float(Fraction(share)) for share in published["expected"]["survival"]] == pytest.approx(curve.survival)
    assert [2, 3, 5, 4, 4, 5] == curve.at_risk.tolist()
    assert (17, "product-limit") == (curve.last_age, curve.method)


def test_delayed_entry_of_many() -> None:
    """Cole & Hudgens 2010: survival and numbers at risk."""
    published = case("life", "macs-aids")
    curve = survival_curve(lives_of(published["data"]))
    rows = published["kaplan_meier_delayed_entry"]["rows"]
    assert [row[0] for row in rows] == curve.ages.tolist()
    assert [row[1] for row in rows] == curve.at_risk.tolist()
    assert [row[3] for row in rows] == pytest.approx(curve.survival, rel=1e-7)


@pytest.mark.parametrize("group", ["maintained", "nonmaintained"])
def test_product_limit_and_its_band(group: str) -> None:
    """Miller 1981 (aml): the table, and the log-log band from its Greenwood errors."""
    published = case("life", "aml-maintenance")
    curve = survival_curve(lives_of(published["data"][group]), 0.95)
    rows = published["expected"]["kaplan_meier"][group]
    assert [row[:2] for row in rows] == [list(pair) for pair in zip(curve.ages, curve.at_risk, strict=True)]
    assert [row[3] for row in rows] == pytest.approx(curve.survival, rel=1e-7)
    for (_, _, _, share, error, _), low, high in zip(rows, curve.lower, curve.upper, strict=True):
        if share > 0:
            factor = math.exp(1.959964 * error / (share * -math.log(share)))
            assert (share**factor, share ** (1 / factor)) == pytest.approx((low, high), rel=1e-6)


def test_at_the_end_the_band_stays_open() -> None:
    """All failed: survival 0, from 0 to the last upper end."""
    curve = survival_curve(Lives.of([1, 2], [1, 2]))
    assert (0, 0, curve.upper[0]) == (curve.survival[1], curve.lower[1], curve.upper[1])


def test_a_failure_comes_before_a_survivor_of_the_same_age() -> None:
    """The survivor still counts as at risk."""
    assert [2] == survival_curve(Lives.of([100, 100], [100, INF])).at_risk.tolist()


def test_counts_are_lives() -> None:
    """Three in one row count as three."""
    assert [0.25] == survival_curve(Lives.of([10, 20], [10, INF], count=[3, 1])).survival.tolist()


def test_no_failures_no_steps() -> None:
    """The curve is 1 as far as anything is known."""
    curve = survival_curve(Lives.of([30, 70], [INF, INF]))
    assert (0, 70.0, 0) == (len(curve.ages), curve.last_age, curve.evidence.failures)
    assert 0 == len(survival_curve(Lives.of([], [])).ages)


def with_a_harmless_interval(lives: Lives) -> Lives:
    """The same lives and one that says nothing of them: first seen after all others, it failed some time later."""
    last = max(lives.lower)
    return Lives.of([*lives.lower, last], [*lives.upper, 1e15], entry=[*lives.entry, last])


@pytest.mark.parametrize("name", ["km-start-stop-r-test2", "macs-aids", "shock-absorber"])
def test_turnbull_of_exact_lives_is_the_product_limit(name: str) -> None:
    """Turnbull 1976: with exact failures the self-consistent curve is the product-limit one."""
    lives = lives_of(case("life", name)["data"])
    plain, turnbull = survival_curve(lives), survival_curve(with_a_harmless_interval(lives))
    assert "Turnbull" == turnbull.method
    same = np.isin(turnbull.ages, plain.ages)
    assert plain.ages.tolist() == turnbull.ages[same].tolist()
    assert plain.survival == pytest.approx(turnbull.survival[same], abs=1e-4)


def test_turnbull_of_inspections_is_the_share_at_each() -> None:
    """Nelson 1982 (part cracking): all inspected at the same ages, so the shares are counts."""
    curve = survival_curve(lives_of(case("life", "part-cracking")["data"]))
    still_good = 167 - np.cumsum([5, 16, 12, 18, 18, 2, 6, 17])
    assert [186, 606, 902, 1077, 1209, 1377, 1592, 1932] == curve.ages.tolist()
    assert (still_good / 167).tolist() == pytest.approx(curve.survival, abs=1e-6)


def test_turnbull_of_current_status_is_the_pooled_share() -> None:
    """Ayer et al. 1955: each tap looked at once; shares that do not rise are pooled (here 2/3 and 1/3 to 1/2)."""
    lower = [0, 0, 10, 0, 20, 20]
    upper = [10, 10, INF, 20, INF, INF]
    assert pytest.approx([0.5], abs=1e-6) == survival_curve(Lives.of(lower, upper)).survival


def test_curves_recover_the_truth() -> None:
    """20 samples of 300 mixed lives: no bias at five ages, and a 95 % band that holds the truth about so often."""
    ages = np.array([100, 200, 300, 400, 500])
    true, misses, hits = Weibull(2.5, 400).survival(ages), np.zeros(5), np.zeros(5)
    for seed in range(20):
        curve = survival_curve(mixed_lives(seed, 300), 0.95)
        at = np.searchsorted(curve.ages, ages, side="right") - 1
        misses += (curve.survival[at] - true) / 20
        hits += (curve.lower[at] <= true) & (true <= curve.upper[at])
    assert np.zeros(5) == pytest.approx(misses, abs=0.03)
    assert 85 <= hits.sum()


@settings(max_examples=40)
@given(any_lives)
def test_any_curve_falls_within_its_band(lives: Lives) -> None:
    """Numbers between 0 and 1, falling, each within its band; no warning."""
    curve = survival_curve(lives)
    assert np.all(np.isfinite(curve.at_risk))
    assert np.all(np.diff(curve.survival) <= 1e-9)
    assert np.all((0 <= curve.lower) & (curve.lower <= curve.survival + 1e-9))
    assert np.all((curve.survival <= curve.upper + 1e-9) & (curve.upper <= 1))
