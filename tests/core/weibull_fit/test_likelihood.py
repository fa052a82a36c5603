from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.weibull import Weibull
from shopfloor.core.weibull_fit.likelihood import Likelihood, log_chance_of_failing
from tests.core.random_lives import any_lives, mixed_lives

LAWS = st.builds(Weibull, st.floats(0.3, 8), st.floats(50, 2000))


def slow_log_likelihood(lives: Lives, weibull: Weibull) -> float:
    """The textbook sum, life by life: density, survival or difference of survivals, over survival at entry."""
    total = 0.0
    for low, up, entry, count in zip(lives.lower, lives.upper, lives.entry, lives.count, strict=True):
        if low == up:
            chance = float(weibull.hazard(low) * weibull.survival(low))
        else:
            chance = float(weibull.survival(low)) - (float(weibull.survival(up)) if math.isfinite(up) else 0.0)
        total += count * math.log(chance / float(weibull.survival(entry)))
    return total


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("weibull", [Weibull(0.8, 900), Weibull(2.5, 400), Weibull(5, 600)])
def test_agrees_with_the_textbook_sum(seed: int, weibull: Weibull) -> None:
    """Klein & Moeschberger 2003, section 3.5, on random mixed lives."""
    lives = mixed_lives(seed, 40)
    likelihood = Likelihood(lives)
    expected = slow_log_likelihood(lives, weibull)
    assert expected == pytest.approx(likelihood.value(*likelihood.parameters(weibull)), rel=1e-10)


def test_parameters_and_law_are_inverse() -> None:
    """(log shape, c) stands for one distribution."""
    likelihood = Likelihood(mixed_lives(1, 10))
    again = likelihood.weibull(*likelihood.parameters(Weibull(2.5, 400)))
    assert (2.5, 400) == pytest.approx((again.shape, again.scale))


@given(any_lives, LAWS)
def test_derivatives_agree_with_differences(lives: Lives, weibull: Weibull) -> None:
    """Gradient against differences of the value, Hessian against differences of the gradient."""
    likelihood = Likelihood(lives)
    here = np.array(likelihood.parameters(weibull))
    value = likelihood.value(*here)
    assume(abs(value) < 1e6)
    gradient, hessian = likelihood.derivatives(*here)
    for i, step in enumerate(np.eye(2) * 1e-5):
        slope = (likelihood.value(*here + step) - likelihood.value(*here - step)) / 2e-5
        curvature = (likelihood.derivatives(*here + step)[0] - likelihood.derivatives(*here - step)[0]) / 2e-5
        assert slope == pytest.approx(gradient[i], rel=1e-4, abs=1e-4 * (1 + abs(value)))
        assert curvature.tolist() == pytest.approx(hessian[i].tolist(), rel=1e-3, abs=1e-3 * (1 + abs(hessian).max()))


@given(any_lives, st.floats(0.1, 20), st.floats(-10, 10))
def test_concave_at_a_fixed_shape(lives: Lives, shape: float, c: float) -> None:
    """What the search for the mode and for the crossings rests on, whatever the mix."""
    likelihood = Likelihood(lives)
    left, middle, right = (likelihood.value(math.log(shape), c + shift) for shift in (-0.5, 0, 0.5))
    assert middle >= (left + right) / 2 - 1e-9 * (1 + abs(left) + abs(right))


@given(any_lives, st.floats(0.1, 50))
def test_the_mode_is_the_highest_point(lives: Lives, shape: float) -> None:
    """No c nearby is more likely."""
    likelihood = Likelihood(lives)
    assume(likelihood.failures and likelihood.exposed.weight.size)
    c = float(likelihood.at(np.array([shape])).mode()[0])
    largest = likelihood.value(math.log(shape), c)
    around = [likelihood.value(math.log(shape), c + shift) for shift in (-1, -0.01, 0.01, 1)]
    assert max(around) <= largest + 1e-9 * (1 + abs(largest))


@given(any_lives, st.floats(0.1, 50), st.booleans(), st.floats(0.1, 10))
def test_the_crossing_lies_at_the_wanted_drop(lives: Lives, shape: float, above: bool, drop: float) -> None:
    """On either side of the mode, the log-likelihood is lower by exactly that much."""
    likelihood = Likelihood(lives)
    assume(likelihood.failures and likelihood.exposed.weight.size)
    slices = likelihood.at(np.array([shape]))
    mode = slices.mode()
    target = float(slices.value(mode)[0]) - drop
    crossing = slices.crossing(target, np.array([above]), mode)
    assert above == (crossing[0] > mode[0])
    assert target == pytest.approx(float(slices.value(crossing)[0]), abs=1e-7 * (1 + abs(target)))


@pytest.mark.parametrize("log_hazard", [-1000.0, -40.0, -29.0, -1.0, 0.0, 3.0, 100.0, 1e6])
def test_log_of_a_chance_is_exact_at_any_size(log_hazard: float) -> None:
    """Very small and very large hazards neither vanish nor overflow."""
    exact = log_hazard if log_hazard < -30 else math.log(-math.expm1(-math.exp(min(log_hazard, 10))))
    assert exact == pytest.approx(float(log_chance_of_failing(np.array(log_hazard))), rel=1e-12, abs=1e-12)


def test_a_part_used_tap_counts_from_where_it_was_first_seen() -> None:
    """A failure one hole after entry says nothing of the million holes before."""
    likelihood = Likelihood(Lives.of([1e6 + 1], [1e6 + 1], entry=[1e6]))
    weibull = Weibull(1, 100)
    assert math.log(1 / 100) - 1 / 100 == pytest.approx(likelihood.value(*likelihood.parameters(weibull)), rel=1e-9)
