"""The likelihood of many conditions, held against plain integrals and differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.optimize import approx_fprime

from shopfloor.core.hierarchical.model.conditions import Histories, History, Use
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.survival.censored_data import Lives
from tests.core.hierarchical.shops import CONDITIONS, plain, points

C = len(CONDITIONS)


def brute(lives: Lives, place: int, mode: str, shape: float, scale: float, frailty: float) -> float:
    """The log-likelihood of one life, its frailty integrated out by quadrature."""
    law = stats.weibull_min(shape, scale=scale)

    def survived(age: float) -> float:
        if not frailty:
            return float(law.sf(age))
        gamma = stats.gamma(1 / frailty, scale=frailty)
        return quad(lambda z: gamma.pdf(z) * law.sf(age) ** z, 0, np.inf, epsabs=1e-13)[0]

    lower, upper, entry = lives.lower[place], lives.upper[place], lives.entry[place]
    if lives.mode[place] != mode:
        likelihood = survived(lower)
    elif lower < upper:
        likelihood = survived(lower) - survived(upper)
    else:
        likelihood = (survived(lower - 0.01) - survived(lower + 0.01)) / 0.02
    return float(np.log(likelihood / survived(entry)))


@pytest.mark.parametrize("frailty", [0.0, 0.8])
def test_the_likelihood_is_that_of_each_life_added_up(frailty: float) -> None:
    """Exact, interval- and right-censored, left-truncated; with and without a factor of each tap's own."""
    histories = plain(1, per_condition=3)
    lives = histories.lives
    b, m, _ = points(2, settings=1)
    found = ModeLikelihood(histories, "break", C).log_likelihood(b, m, np.array([frailty])).value[0]
    shapes, scales = np.exp(b[0])[histories.condition], np.exp(m[0])[histories.condition]
    wanted = sum(brute(lives, i, "break", shapes[i], scales[i], frailty) for i in range(len(lives)))
    assert wanted == pytest.approx(found, rel=1e-5)


def mixed_histories() -> Histories:
    """Lives over several conditions: still good, exact, interval and followed late, beside plain ones."""
    uses = (Use(0, 100), Use(2, 50), Use(0, 30))
    told = [
        History(uses, 180, np.inf),
        History(uses, 170, 170, mode="break"),
        History(uses, 160, 180, entry=20, mode="break"),
        History((Use(1, 90), Use(3, 40)), 100, 130, mode="wear"),
        History((Use(1, 90),), 90, 90, mode="break"),
    ]
    return Histories.of(told)


@pytest.mark.parametrize("histories", [plain(3), mixed_histories()], ids=["plain", "mixed"])
def test_the_gradient_is_the_slope(histories: Histories) -> None:
    """For every parameter, with and without frailty."""
    likelihood = ModeLikelihood(histories, "break", C)
    b, m, frailty = points(4)
    terms = likelihood.log_likelihood(b, m, frailty)
    for k in range(len(frailty)):

        def value(theta: np.ndarray, k: int = k) -> float:
            return float(likelihood.log_likelihood(theta[None, :C], theta[None, C:], frailty[k : k + 1]).value[0])

        slope = approx_fprime(np.concatenate([b[k], m[k]]), value, 1e-6)
        assert slope == pytest.approx(np.concatenate([terms.by_b[k], terms.by_m[k]]), rel=1e-3, abs=1e-3)


def test_one_condition_in_many_uses_is_one_use() -> None:
    """Splitting a use, or joining two of one condition, changes nothing."""
    b, m, frailty = points(5)
    whole = Histories.of([History((Use(0, 100), Use(2, 80)), 180, 180, mode="break")])
    split = Histories.of([History((Use(0, 60), Use(0, 40), Use(2, 30), Use(2, 50)), 180, 180, mode="break")])
    values = [ModeLikelihood(one, "break", C).log_likelihood(b, m, frailty).value for one in (whole, split)]
    assert values[0] == pytest.approx(values[1], rel=1e-12)


def test_equal_conditions_make_a_mixed_life_a_plain_one() -> None:
    """Where two conditions have the same distribution, it does not matter which holes were made in which."""
    b, m, frailty = points(6)
    b[:, 2], m[:, 2] = b[:, 0], m[:, 0]
    mixed = Histories.of([History((Use(0, 100), Use(2, 80)), 170, 180, entry=30, mode="break")])
    alone = Histories.of([History((Use(2, 150),), 170, 180, entry=30, mode="break")])
    values = [ModeLikelihood(one, "break", C).log_likelihood(b, m, frailty).value for one in (mixed, alone)]
    assert values[0] == pytest.approx(values[1], rel=1e-12)


def test_each_hole_uses_up_life_at_the_rate_of_its_condition() -> None:
    """Worked by hand: 100 of 400 and 60 of 120 holes use up 0.25 + 0.5 = 0.75 lives; H = 0.75^2 = 0.5625."""
    b, m = np.full((1, C), np.log(2.0)), np.log([[400.0, 1.0, 120.0, 1.0]])
    survivor = Histories.of([History((Use(0, 100), Use(2, 60)), 160, np.inf)])
    assert pytest.approx(-0.5625) == ModeLikelihood(survivor, "break", C).log_likelihood(b, m, np.zeros(1)).value[0]


def test_the_part_of_one_condition_is_its_own() -> None:
    """The parts of all conditions make the whole."""
    histories = plain(7)
    likelihood = ModeLikelihood(histories, "break", C)
    b, m, frailty = points(8)
    parts = sum(likelihood.own.log_likelihood(place, b[:, place], m[:, place], frailty) for place in range(C))
    assert likelihood.log_likelihood(b, m, frailty).value == pytest.approx(parts, rel=1e-12)
