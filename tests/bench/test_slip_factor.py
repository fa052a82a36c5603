"""Slips count where the shop's own log shows that they foretell breaks, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.slip_factor import NO_FACTOR, SeenRuns, SlipFactor, learned, likeliest, rise


def simulated(seed: int, power: float, taps: int = 300, runs: int = 6) -> SeenRuns:
    """Runs of taps whose hazard goes with the power of their slips' rise, under two laws."""
    rng = np.random.default_rng(seed)
    n = taps * runs
    growth = rng.uniform(0.01, 0.2, (n, 1)) * np.array([0.8, 1.25])
    weight = np.full((n, 2), 0.5)
    x = rng.normal(0, 0.7, n)
    chance = SlipFactor(0.0, power).chances(growth, weight, x)
    return SeenRuns(growth, weight, x, (rng.random(n) < chance).astype(float), np.repeat(np.arange(float(taps)), runs))


def test_a_power_that_is_there_is_found_and_used() -> None:
    """Within what the breaks allow, and shown by taps that were kept apart."""
    found = learned(simulated(1, power=1.0))
    assert found is not None
    assert found.is_shown
    assert found.factor.b == pytest.approx(1.0, abs=0.3)
    assert found.factor.c == pytest.approx(0.0, abs=0.3)


def test_slips_that_tell_nothing_are_left_out() -> None:
    """In at most 2 of 20 shops would they be taken in by chance."""
    found = [learned(simulated(seed, power=0.0, taps=100)) for seed in range(20)]
    assert sum(one.is_shown for one in found if one) <= 2


def test_without_slips_only_the_level_is_fitted() -> None:
    """b stays 0."""
    assert likeliest(simulated(2, power=1.0), with_slips=False).b == 0


def test_few_breaks_teach_nothing() -> None:
    """Below 20 there is no answer, not a wild one."""
    runs = simulated(3, power=1.0, taps=20, runs=2)
    assert runs.broke.sum() < 20
    assert learned(runs) is None


def test_no_factor_leaves_the_chance_as_it_was() -> None:
    """Worked by hand: half 1 - exp(-0.1), half 1 - exp(-0.2)."""
    growth, weight = np.array([[0.1, 0.2]]), np.array([[0.5, 0.5]])
    assert 0.1382157 == pytest.approx(NO_FACTOR.chances(growth, weight, np.array([2.0]))[0], abs=1e-6)


def test_a_rise_is_told_against_the_usual() -> None:
    """As many as usual: 0; 5 where 2 are usual: log(6 / 3)."""
    assert 0 == rise(2, 2)
    assert np.log(2) == pytest.approx(rise(5, 2))
