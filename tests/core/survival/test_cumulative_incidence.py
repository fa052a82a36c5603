from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.cumulative_incidence import cumulative_incidence
from shopfloor.core.survival.survival_curve import survival_curve
from tests.core.random_lives import any_lives
from tests.published.life import case, lives_with_causes

INF = math.inf


@pytest.mark.parametrize("name", ["device-g", "shock-absorber-modes"])
def test_published_incidence(name: str) -> None:
    """Competing modes, Meeker & Escobar 1998, section 15.4."""
    published = case("life", name)
    table = published["expected"]["cumulative_incidence"]
    modes = [column.removeprefix("F_") for column in table["layout"][2:4]]
    incidence = cumulative_incidence(lives_with_causes(published["data"]))
    columns = [incidence.ages, incidence.at_risk, *(incidence.by_mode[mode] for mode in modes), incidence.survival]
    for expected, column in zip(zip(*table["rows"], strict=True), columns, strict=True):
        assert list(expected) == pytest.approx(column, rel=1e-7)


def test_incidence_and_survival_add_up() -> None:
    """At every age each tap is good or failed by one mode."""
    incidence = cumulative_incidence(lives_with_causes(case("life", "device-g")["data"]))
    assert np.ones(len(incidence.ages)) == pytest.approx(sum(incidence.by_mode.values()) + incidence.survival)


@pytest.mark.parametrize(("cause", "mode"), [(1, "surge"), (2, "wearout")])
def test_bands_agree_with_lifelines(cause: int, mode: str) -> None:
    """lifelines' Aalen-Johansen fitter: same shares, same 95 % bands once the mode has occurred."""
    lifelines = pytest.importorskip("lifelines")
    data = case("life", "device-g")["data"]["time_cause"]
    incidence = cumulative_incidence(lives_with_causes(case("life", "device-g")["data"]), 0.95)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitter = lifelines.AalenJohansenFitter(jitter_level=1e-7, seed=1)
        fitter.fit([age for age, _ in data], [which for _, which in data], cause)
    theirs = np.column_stack([fitter.cumulative_density_, fitter.confidence_interval_])
    at = np.searchsorted(fitter.cumulative_density_.index, incidence.ages + 1e-3) - 1
    ours = np.column_stack([incidence.by_mode[mode], incidence.lower[mode], incidence.upper[mode]])
    occurred = incidence.by_mode[mode] > 0
    assert ours[occurred] == pytest.approx(theirs[at][occurred], rel=1e-6)


def test_inspections_of_all_taps_give_the_shares_counted() -> None:
    """All taps are looked at at 100 and 200: of ten, 2 broke and 1 was worn by 100, 1 and 3 more by 200."""
    lives = Lives.of(
        [0, 0, 100, 100, 200],
        [100, 100, 200, 200, INF],
        mode=["break", "wear", "break", "wear", ""],
        count=[2, 1, 1, 3, 3],
    )
    incidence = cumulative_incidence(lives)
    assert ("Turnbull", [100, 200]) == (incidence.method, incidence.ages.tolist())
    assert [0.2, 0.3] == pytest.approx(incidence.by_mode["break"])
    assert [0.1, 0.4] == pytest.approx(incidence.by_mode["wear"])
    assert [0.7, 0.3] == pytest.approx(incidence.survival)


def test_intervals_of_one_mode_are_the_turnbull_curve() -> None:
    """What has failed is what is no longer good."""
    rng = np.random.default_rng(4)
    ages = np.ceil(rng.weibull(2, 40) * 300)
    lives = Lives.of(ages - 40 * (ages > 40), ages, mode=["wear"] * 40)
    incidence, curve = cumulative_incidence(lives), survival_curve(lives)
    assert curve.ages.tolist() == incidence.ages.tolist()
    assert 1 - curve.survival == pytest.approx(incidence.by_mode["wear"], abs=1e-6)


def test_a_mode_not_seen_yet_is_not_ruled_out() -> None:
    """Twenty taps, one broken: the first worn one may still be one of seven (1 - 0.05^(1/20) = 13.9 %)."""
    lives = Lives.of([10, *[50] * 18, 60], [10, *[INF] * 18, 60], mode=["break", *[""] * 18, "wear"])
    incidence = cumulative_incidence(lives)
    assert (0, pytest.approx(0.139, abs=1e-3)) == (incidence.by_mode["wear"][0], incidence.upper["wear"][0])


@settings(max_examples=40)
@given(any_lives)
def test_shares_lie_within_their_bands(lives: Lives) -> None:
    """For any lives with modes: numbers between 0 and 1, rising, each within its band, adding up; no warning."""
    picked = np.random.default_rng(len(lives)).random(len(lives)) < 0.5
    modes = np.where(lives.is_failure, np.where(picked, "break", "wear"), "")
    incidence = cumulative_incidence(Lives(lives.lower, lives.upper, lives.entry, modes, lives.count))
    total = incidence.survival.copy()
    for mode, share in incidence.by_mode.items():
        total = total + share
        assert np.all(np.diff(share) >= -1e-9)
        assert np.all((0 <= incidence.lower[mode]) & (incidence.lower[mode] <= share + 1e-9))
        assert np.all((share <= incidence.upper[mode] + 1e-9) & (incidence.upper[mode] <= 1 + 1e-9))
    assert np.ones(len(total)) == pytest.approx(total, abs=1e-4)


def test_levels_are_checked() -> None:
    """The error names the level."""
    with pytest.raises(InputError, match=r"^level"):
        cumulative_incidence(Lives.of([1], [1]), 2)
