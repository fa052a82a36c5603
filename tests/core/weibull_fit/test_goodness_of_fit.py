from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import fit_weibull
from shopfloor.core.weibull_fit.goodness_of_fit import GoodnessOfFit, distances, goodness_of_fit
from tests.core.random_lives import any_lives, mixed_lives
from tests.published.life import case, lives_of


def judged(lives: Lives, draws: int = 199) -> GoodnessOfFit:
    """The verdict on the calibrated fit."""
    return goodness_of_fit(lives, fit_weibull(lives), draws)


def test_lives_of_two_kinds_do_not_fit() -> None:
    """A third of the taps from a bad lot: no Weibull distribution has such lives."""
    rng = np.random.default_rng(1)
    ages = np.concatenate([60 * rng.weibull(4, 15), 1000 * rng.weibull(4, 30)])
    assert "does not fit" == judged(Lives.of(ages, ages)).verdict


@pytest.mark.parametrize("name", ["ball-bearing", "shock-absorber", "diesel-fan", "mixed-log-1"])
def test_published_weibull_examples_fit(name: str) -> None:
    """Examples that books use for the Weibull distribution."""
    assert "fits" == judged(lives_of(case("life", name)["data"])).verdict


def test_cracking_parts_do_not_fit() -> None:
    """Nelson 1982's 167 parts: a chi-square test of counts rejects the fitted distribution as well (31.5 on 6)."""
    assert "does not fit" == judged(lives_of(case("life", "part-cracking")["data"]), 499).verdict


def test_the_clock_of_a_known_law() -> None:
    """Two failures and a survivor: by hand from the fitted distribution, compared with a uniform one."""
    lives = Lives.of([100, 250, 300], [100, 250, math.inf])
    fit = fit_weibull(lives, interval="profile")
    shape = fit.most_likely.shape  # type: ignore[union-attr]
    hazard = (np.array([100, 250, 300]) / 300) ** shape
    first, second = 3 * hazard[0] / hazard.sum(), (hazard[0] + 2 * hazard[1]) / hazard.sum()
    u = [float(first), float(second)]
    by_hand = -2 - (math.log(u[0]) + math.log(1 - u[1]) + 3 * (math.log(u[1]) + math.log(1 - u[0]))) / 2
    assert [by_hand] == pytest.approx(distances(lives, np.zeros(3, int), "profile"), rel=1e-9)


def test_the_same_lives_have_the_same_answer() -> None:
    """Drawn with a seed; scaled lives too, but for ties by rounding."""
    lives = mixed_lives(3, 30)
    assert judged(lives).chance == judged(lives).chance


def test_true_weibull_lives_are_rarely_doubted() -> None:
    """60 logs sampled from a Weibull distribution: about one of ten is doubted (at most 13: three standard errors)."""
    rng = np.random.default_rng(2)
    doubted = 0
    for _ in range(60):
        life, stop = 400 * rng.weibull(2.5, 20), rng.uniform(100, 900, 20)
        lives = Lives.of(np.minimum(life, stop), np.where(life <= stop, life, np.inf))
        doubted += judged(lives, 99).verdict in ("doubtful", "does not fit")
    assert doubted <= 13


@pytest.mark.parametrize("lives", [Lives.of([], []), Lives.of([5, 9, 12], [5, 9, math.inf]), mixed_lives(1, 3)])
def test_too_little_is_unknown(lives: Lives) -> None:
    """With what would be enough."""
    found = judged(lives)
    assert ("unknown", None, None) == (found.verdict, found.chance, found.distance)
    assert "5 failures" in found.enough


def test_very_many_lives_are_left_alone() -> None:
    """No attempt to draw 10^9 lives."""
    lives = Lives.of([100, 200, 300], [100, 200, math.inf], count=[10**8, 10**8, 10**9])
    assert "unknown" == judged(lives).verdict


@settings(max_examples=25)
@given(any_lives)
def test_any_lives_have_a_verdict(lives: Lives) -> None:
    """Nothing crashes or warns."""
    found = judged(lives, 99)
    assert found.chance is None or 0 < found.chance <= 1
