from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shopfloor.core.errors import InputError
from shopfloor.core.survival.weibull import Weibull, log_mass, log_ratio
from tests.published.life import case

RISKS = case("replacement", "conditional-break-risk")["expected"]
SHAPES = st.floats(0.1, 30)
AGES = st.floats(0, 1e4)


@pytest.mark.parametrize("risk", RISKS)
def test_chance_of_failing_in_the_next_batch(risk: dict[str, float]) -> None:
    """Conditional reliability, NIST/SEMATECH e-Handbook 8.1.2."""
    weibull = Weibull(risk["beta"], risk["eta"])
    assert risk["prob_break"] == pytest.approx(weibull.chance_of_failing(risk["age"], risk["batch"]), rel=1e-6)


def test_the_scale_is_the_age_by_which_63_percent_fail() -> None:
    """Whatever the shape (NIST/SEMATECH e-Handbook 8.1.6.2)."""
    assert [1 - math.exp(-1)] * 3 == pytest.approx([1 - float(Weibull(b, 500).survival(500)) for b in (0.5, 1, 4)])


@given(SHAPES, st.floats(1e-6, 0.999))
def test_quantile_and_survival_are_inverse(shape: float, p: float) -> None:
    """The share failed by the life at p is p."""
    weibull = Weibull(shape, 250)
    assert p == pytest.approx(1 - float(weibull.survival(weibull.quantile(p))), rel=1e-6)


@pytest.mark.parametrize("shape", [0.7, 1.0, 2.5, 8.0])
def test_mean_is_the_integral_of_survival(shape: float) -> None:
    """Second route: quadrature."""
    weibull = Weibull(shape, 100)

    def survival(age: float) -> float:
        return float(weibull.survival(age))

    assert quad(survival, 0, 100)[0] + quad(survival, 100, np.inf)[0] == pytest.approx(weibull.mean)


@pytest.mark.parametrize("shape", [0.7, 1.0, 2.5, 8.0])
def test_hazard_is_the_slope_of_its_sum(shape: float) -> None:
    """Second route: a difference quotient."""
    weibull = Weibull(shape, 100)
    slope = (weibull.cumulative_hazard(80.001) - weibull.cumulative_hazard(79.999)) / 0.002
    assert float(slope) == pytest.approx(float(weibull.hazard(80)), rel=1e-6)


@pytest.mark.parametrize(("shape", "hazard"), [(0.5, math.inf), (1.0, 0.01), (2.0, 0.0)])
def test_hazard_of_a_fresh_tap(shape: float, hazard: float) -> None:
    """Infinite, constant or none, and never a warning."""
    assert hazard == pytest.approx(float(Weibull(shape, 100).hazard(0)))


def test_small_chances_keep_their_digits() -> None:
    """One hole in a life of 10^9: H(1) itself, which 1 - exp(-H) would lose."""
    assert pytest.approx(1e-18, rel=1e-9) == float(Weibull(2, 1e9).chance_of_failing(0, 1))
    assert pytest.approx(2e-9, rel=1e-6) == float(Weibull(2, 1e9).chance_of_failing(1e9, 1))


def test_no_holes_no_risk() -> None:
    """Nothing to come, or less than the age can resolve, is no chance of failing."""
    assert [0, 0, 0] == Weibull(3, 100).chance_of_failing([0, 50, 1e9], [0, 0, 1e-9]).tolist()


def test_arrays_in_arrays_out() -> None:
    """Each method answers in the shape that it was asked in."""
    weibull, ages = Weibull(2, 100), np.ones((2, 3))
    for method in (weibull.survival, weibull.hazard, weibull.cumulative_hazard):
        assert (2, 3) == method(ages).shape
    assert (2, 3) == weibull.chance_of_failing(ages, 5).shape
    assert (2, 3) == weibull.quantile(ages / 2).shape


@given(SHAPES, AGES, AGES, st.floats(1, 1e4))
def test_more_holes_are_never_safer(shape: float, age: float, holes: float, scale: float) -> None:
    """Risk lies in 0..1 and grows with the batch."""
    few, many = Weibull(shape, scale).chance_of_failing(age, [holes, 2 * holes])
    assert 0 <= few <= many <= 1


@given(SHAPES, st.floats(1, 1e9), st.floats(0.001, 1e9))
def test_hazard_between_two_ages_is_a_difference(shape: float, start: float, width: float) -> None:
    """Logs agree with plain subtraction where that does not cancel."""
    end = start + width
    plain = end**shape - start**shape if shape * math.log(end) < 600 else math.inf
    if math.isfinite(plain) and plain > 1e-6 * end**shape:
        assert math.log(plain) == pytest.approx(float(log_mass(shape, math.log(end), log_ratio(end, start))), abs=1e-8)


@pytest.mark.parametrize(
    ("shape", "scale"), [(0, 1), (-1, 1), (math.nan, 1), (math.inf, 1), (1, 0), (1, -5), (1, math.inf), (1, math.nan)]
)
def test_a_law_needs_finite_positive_numbers(shape: float, scale: float) -> None:
    """Anything else is refused by name."""
    with pytest.raises(InputError, match=r"shape|scale"):
        Weibull(shape, scale)


@pytest.mark.parametrize("wrong", [-1, math.nan, math.inf])
def test_ages_are_checked(wrong: float) -> None:
    """The error names the argument."""
    with pytest.raises(InputError, match=r"^age"):
        Weibull(1, 1).survival(wrong)
    with pytest.raises(InputError, match=r"^next"):
        Weibull(1, 1).chance_of_failing(1, wrong)


@pytest.mark.parametrize("wrong", [-0.1, 1, math.nan])
def test_shares_are_checked(wrong: float) -> None:
    """All lives never fail by any age."""
    with pytest.raises(InputError, match=r"^p"):
        Weibull(1, 1).quantile(wrong)
