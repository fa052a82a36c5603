from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shopfloor.core.decision.replacement import cost_per_hole, replacement_age
from shopfloor.core.errors import InputError
from shopfloor.core.survival.weibull import Weibull
from tests.published.life import case

INF = math.inf
GRID = case("replacement", "age-replacement-grid")["expected"]
NO_GAIN = case("replacement", "age-replacement-no-gain")["expected"]
Known = dict[str, Any]


def slow_cost(weibull: Weibull, age: float, planned: float, failure: float) -> float:
    """The textbook quotient, its integral by quadrature."""

    def survival(at: float) -> float:
        return float(weibull.survival(at))

    good = survival(age)
    return float((planned * good + failure * (1 - good)) / quad(survival, 0, age, limit=200)[0])


@pytest.mark.parametrize("known", [*GRID, case("replacement", "age-replacement-published")["expected"]])
def test_published_ages(known: Known) -> None:
    """Barlow & Hunter 1960: age, costs, saving and chance of failure before."""
    plan = replacement_age(Weibull(known["beta"], known["eta"]), known["cost_planned"], known["cost_failure"])
    assert known["optimal_age"] == pytest.approx(plan.age, rel=1e-6)
    assert known["min_cost_rate"] == pytest.approx(plan.cost_per_hole, rel=1e-7)
    assert known["run_to_failure_rate"] == pytest.approx(plan.cost_per_hole_run_to_failure, rel=1e-7)
    assert known["saving_fraction"] == pytest.approx(plan.saving, rel=1e-6)
    assert known["prob_failure_before_replacement"] == pytest.approx(plan.chance_of_failure_before, rel=1e-6)


def test_printed_age() -> None:
    """As printed (found on a grid): documentation of the package reliability, optimal replacement time."""
    printed = case("replacement", "age-replacement-published")["published"][0]
    plan = replacement_age(Weibull(2.5, 1000), 1, 5)
    assert printed["optimal_age"] == pytest.approx(plan.age, rel=1e-3)
    assert printed["min_cost_rate"] == pytest.approx(plan.cost_per_hole, abs=5e-5)


@pytest.mark.parametrize("known", NO_GAIN)
def test_no_gain_is_no_age(known: Known) -> None:
    """Where the hazard does not rise, or a failure costs no more, there is nothing to suggest."""
    plan = replacement_age(Weibull(known["beta"], known["eta"]), known["cost_planned"], known["cost_failure"])
    assert (None, 0.0, 1.0) == (plan.age, plan.saving, plan.chance_of_failure_before)
    assert known["run_to_failure_rate"] == pytest.approx(plan.cost_per_hole_run_to_failure, rel=1e-7)
    assert plan.cost_per_hole == plan.cost_per_hole_run_to_failure


@pytest.mark.parametrize(("shape", "ratio"), [(1.2, 3.0), (2.0, 10.0), (3.5, 100.0), (15.0, 2.0), (1.05, 400.0)])
def test_no_other_age_is_cheaper(shape: float, ratio: float) -> None:
    """Second route: cost by quadrature, at the suggested age and around it."""
    weibull = Weibull(shape, 700)
    plan = replacement_age(weibull, 1, ratio)
    assert plan.age is not None
    assert slow_cost(weibull, plan.age, 1, ratio) == pytest.approx(plan.cost_per_hole, rel=1e-8)
    around = [slow_cost(weibull, plan.age * factor, 1, ratio) for factor in (0.5, 0.9, 0.99, 1.01, 1.1, 2.0)]
    assert min(around) >= plan.cost_per_hole


SHAPES = st.floats(1.001, 100)
RATIOS = st.floats(1.0001, 1e9)


@given(SHAPES, st.floats(1, 1e9), RATIOS)
def test_only_the_ratio_of_costs_matters(shape: float, scale: float, ratio: float) -> None:
    """Another currency, or another unit of age, changes no saving."""
    one, other = replacement_age(Weibull(shape, 1), 1, ratio), replacement_age(Weibull(shape, scale), 7, 7 * ratio)
    assert one.saving == pytest.approx(other.saving, rel=1e-6, abs=1e-12)
    assert (one.age is None) == (other.age is None)
    assert one.age is None or one.age * scale == pytest.approx(other.age, rel=1e-5)


@given(SHAPES, RATIOS, st.floats(1.01, 10))
def test_dearer_failures_mean_earlier_changes(shape: float, ratio: float, factor: float) -> None:
    """And a larger saving."""
    cheap, dear = (replacement_age(Weibull(shape, 100), 1, r) for r in (ratio, ratio * factor))
    assert (dear.age or INF) <= (cheap.age or INF) * (1 + 1e-9)
    assert dear.saving >= cheap.saving - 1e-9
    assert 0 <= cheap.saving < 1


def test_beyond_any_tap_is_never() -> None:
    """An age that practically no tap reaches is not suggested."""
    assert replacement_age(Weibull(1.001, 100), 1, 2).age is None


def test_cost_of_never_changing_is_cost_of_failures() -> None:
    """An infinite age is run to failure."""
    assert 5 / Weibull(2, 100).mean == pytest.approx(cost_per_hole(Weibull(2, 100), INF, 1, 5))


@pytest.mark.parametrize("cost", [0, -1, math.nan, INF])
def test_costs_are_checked(cost: float) -> None:
    """The error names the cost."""
    with pytest.raises(InputError, match=r"cost.planned"):
        replacement_age(Weibull(2, 100), cost, 5)
    with pytest.raises(InputError, match=r"cost.failure"):
        replacement_age(Weibull(2, 100), 1, cost)


def test_a_hazard_that_hardly_rises_still_has_its_cheapest_age() -> None:
    """Shapes just above 1 and failures dear without measure: the early condition is solved, at its known first order.

    For H near 0 the condition is (k - 1) H, so H = Cp / ((Cf - Cp)(k - 1)) (first term of Barlow & Hunter's condition).
    """
    for shape, cost in ((1.01, 1.2e8), (1.0008346387548603, 1.0415637e13), (1.0684688237122537, 3.8e11)):
        age = replacement_age(Weibull(shape, 1000.0), 1.0, cost).age
        assert age is not None
        assert 1 / ((cost - 1) * (shape - 1)) == pytest.approx((age / 1000) ** shape, rel=1e-4)
