"""Tap after tap at one station, each run to failure: life distributions put through the renewal equation.

The solvers here are slow and plain: discretisation by midpoints (M. Xie, Comm. Statist. Simulation 18 (1989) 281-293).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from shopfloor.core.decision.replacement import replacement_age
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.weibull import Weibull
from tests.published.life import case

STEPS = 2000
Failed = Callable[[FloatArray], FloatArray]


def failed_by(weibull: Weibull) -> Failed:
    """Share of taps that have failed by each age."""
    return lambda ages: np.asarray(weibull.chance_of_failing(0.0, ages))


def renewals(failed: Failed, until: float) -> float:
    """Expected failures of one station by an age: M = F + F * M."""
    ages = np.linspace(0, until, STEPS + 1)
    middle = failed(ages[1:] - until / STEPS / 2)
    share, found = failed(ages), np.zeros(STEPS + 1)
    for i in range(1, STEPS + 1):
        earlier = np.diff(found[:i]) @ middle[1:i][::-1]
        found[i] = (share[i] + earlier - middle[0] * found[i - 1]) / (1 - middle[0])
    return float(found[-1])


def chances_of_at_most(failed: Failed, until: float, most: int) -> list[float]:
    """Chances of at most 0, 1, 2 ... failures: those that the sum of one tap more outlives the age."""
    share = np.diff(failed(np.linspace(0, until, STEPS + 1)))
    # A life in step i counts as i + 1/2 steps; so the sum of n lives lies n/2 steps above the sum of the places.
    sums, chances = np.ones(1), []
    for n in range(1, most + 2):
        sums = np.convolve(sums, share)[: STEPS + 1]
        whole = np.append(0.0, np.cumsum(sums))
        chances.append(1 - float(np.interp(STEPS - n / 2 + 0.5, np.arange(len(whole)), whole)))
    return chances


@pytest.mark.parametrize("known", case("replacement", "renewal-function-weibull")["expected"])
def test_expected_failures_of_one_station(known: dict[str, float]) -> None:
    """Renewal function of Weibull distributions: Smith & Leadbetter 1963 by series, Xie 1989 by discretisation."""
    weibull = Weibull(known["beta"], 400.0)
    found = renewals(failed_by(weibull), 400 * known["t_over_eta"])
    assert known["M"] == pytest.approx(found, rel=1e-4)


@pytest.mark.parametrize("known", case("replacement", "renewal-function-erlang2")["expected"])
def test_the_solver_itself(known: dict[str, float]) -> None:
    """Cox 1962: t/2 - 1/4 + exp(-2 t)/4 where a life is the sum of two exponential ones."""
    found = renewals(lambda ages: 1 - np.exp(-ages) * (1 + ages), known["t"])
    assert known["M"] == pytest.approx(found, rel=1e-4)
    assert known["M"] == pytest.approx(known["t"] / 2 - 0.25 + math.exp(-2 * known["t"]) / 4, rel=1e-6)


@pytest.mark.parametrize("known", case("replacement", "renewal-count-distribution")["expected"])
def test_chances_of_so_many_failures(known: dict[str, float]) -> None:
    """N(t) <= n exactly when n + 1 lives outlast t (Cox 1962)."""
    expected = case("replacement", "renewal-count-distribution")
    chances = next(one["prob_at_most"] for one in expected["expected"] if one == known)
    found = chances_of_at_most(failed_by(Weibull(known["beta"], 1.0)), known["t_over_eta"], len(chances) - 1)
    assert chances == pytest.approx(found, abs=expected["abs_tol"])


def test_the_cost_of_running_to_failure_is_that_of_the_renewals() -> None:
    """Over many lives: failures by the renewal equation, times their cost, over the holes made."""
    weibull = Weibull(2.0, 100.0)
    until = 20 * weibull.mean
    more = renewals(failed_by(weibull), until) - renewals(failed_by(weibull), until / 2)
    plan = replacement_age(weibull, 1.0, 7.0)
    assert 7 * more / (until / 2) == pytest.approx(plan.cost_per_hole_run_to_failure, rel=1e-3)
