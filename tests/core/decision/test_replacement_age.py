"""Advice over many draws: exact where the distribution is known, silent where nothing is to be gained."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shopfloor.core.decision.failure_probability import chance_of_failing, chances_ahead, equivalent_holes
from shopfloor.core.decision.replacement import cost_per_hole, replacement_age
from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.survival.weibull import Weibull
from tests.published.life import case

COSTS = Costs(1.0, (8.0,))


def known(*laws: Weibull, frailty: float = 0.0) -> Draws:
    """Draws for several conditions with known distributions."""
    b, m = (np.log([[getattr(law, name) for law in laws]] * 3) for name in ("shape", "scale"))
    return Draws(b, m, np.full(3, frailty), np.zeros(3))


@given(st.floats(1.5, 6), st.floats(50, 5000), st.floats(3, 60))
def test_one_known_law_is_advised_as_the_exact_solution(shape: float, scale: float, ratio: float) -> None:
    """The cost at the advised age is that of the best age; Barlow & Hunter 1960, by `replacement_age`."""
    law = Weibull(shape, scale)
    best = replacement_age(law, 1.0, ratio)
    found = best_policy([known(law)], Costs(1.0, (ratio,)), 0.9)
    if best.saving < 0.025:
        return
    assert found.age is not None
    assert best.cost_per_hole == pytest.approx(cost_per_hole(law, found.age, 1.0, ratio), rel=2e-3)
    assert best.saving == pytest.approx(found.saving, abs=5e-3)
    assert best.age is not None
    area, _ = quad(lambda age: float(law.survival(age)), 0, found.age)
    assert area == pytest.approx(found.holes_per_tap, rel=0.08)


class Uniform(Draws):
    """Lives spread evenly between 0 and 1,000 holes, for sure."""

    def cumulative_hazard(self, ages: FloatArray) -> FloatArray:
        """-log of the share that lasts, the same in every draw."""
        return np.tile(-np.log(np.maximum(1 - ages / 1000, 1e-300)), (len(self.frailty), 1))


def test_the_best_age_of_a_law_that_is_no_weibull_law() -> None:
    """Barlow & Hunter 1960, lives uniform on (0, 1): T = sqrt(k^2 + 2 k) - k, k = Cp / (Cf - Cp)."""
    published = case("replacement", "age-replacement-uniform-closed-form")
    planned, failure = published["data"]["cost_planned"], published["data"]["cost_failure"]
    k = planned / (failure - planned)
    assert published["expected"]["optimal_age"] == pytest.approx(np.sqrt(k * k + 2 * k) - k)
    laws = Uniform(np.zeros((3, 1)), np.full((3, 1), np.log(500.0)), np.zeros(3), np.zeros(3))
    found = best_policy([laws], Costs(planned, (failure,)), 0.9)
    assert 1000 * published["expected"]["optimal_age"] == pytest.approx(found.age, rel=0.01)
    cost = (planned * 0.5 + failure * 0.5) / (500 - 125)
    assert cost == pytest.approx(found.cost_per_hole, rel=5e-3)


def test_two_modes_compete_with_their_own_costs() -> None:
    """Cost per hole against direct integration: each mode's share is the integral of its hazard times survival."""
    breaks, wear = Weibull(2.0, 600.0), Weibull(4.0, 500.0)
    found = best_policy([known(breaks), known(wear)], Costs(1.0, (20.0, 5.0)), 0.9)
    assert found.age is not None

    def survival(age: float) -> float:
        return float(breaks.survival(age) * wear.survival(age))

    shares = [quad(lambda t, one=one: float(one.hazard(t)) * survival(t), 0, found.age)[0] for one in (breaks, wear)]
    length = quad(survival, 0, found.age)[0]
    cost = (survival(found.age) + 20 * shares[0] + 5 * shares[1]) / length
    assert cost == pytest.approx(found.cost_per_hole, rel=0.02)
    assert (found.flat or (np.inf,))[0] < found.age < (found.flat or (0, 0))[1]


@pytest.mark.parametrize("shape", [0.8, 1.0, 1.05])
def test_a_flat_hazard_is_left_alone(shape: float) -> None:
    """Where failures come no more often on old taps there is nothing to gain."""
    found = best_policy([known(Weibull(shape, 400.0))], COSTS, 0.9)
    assert (None, None, "none") == (found.age, found.flat, found.gain)
    assert found.reason.startswith("Nothing to gain")


def test_doubt_whether_the_hazard_rises_is_told() -> None:
    """Half the draws with a flat hazard, half steep: the saving's interval reaches from a loss to a gain."""
    b = np.log(np.array([[1.0], [1.0], [3.0], [3.0], [3.0]]))
    found = best_policy([Draws(b, np.full((5, 1), np.log(400.0)), np.zeros(5), np.zeros(5))], COSTS, 0.9)
    assert found.gain == "likely"
    assert found.saving_interval[0] < 0 < found.saving_interval[1]
    assert 0.6 == pytest.approx(found.chance_of_saving)


def test_what_a_change_costs_over_running_to_failure_counts_half_again() -> None:
    """Two draws, steep or flat: no age of a grid loses less than the advised; without harm it would be earlier."""
    chances, truth = (0.5, 0.5), (Weibull(2.2, 500.0), Weibull(1.0, 600.0))
    laws = Draws(np.log([[2.2], [1.0]]), np.log([[500.0], [600.0]]), np.zeros(2), np.log(chances))

    def lost(age: float, harm: float) -> float:
        total = 0.0
        for chance, law in zip(chances, truth, strict=True):
            best, never = replacement_age(law, 1.0, 15.0).cost_per_hole, 15.0 / law.mean
            cost = cost_per_hole(law, age, 1.0, 15.0)
            total += chance * (cost / best + harm * max(cost / never - 1, 0.0))
        return total

    ages = np.geomspace(50, 2000, 300)
    found = best_policy([laws], Costs(1.0, (15.0,)), 0.9).age
    assert found is not None
    assert lost(found, 0.5) <= min(lost(age, 0.5) for age in ages) + 2e-3
    assert min(ages, key=lambda age: lost(age, 0.0)) < 0.95 * found


def test_costs_that_cannot_be_are_refused() -> None:
    """By name; and there must be one for each mode."""
    with pytest.raises(InputError, match="cost failure: 0 is not a valid cost"):
        Costs(1.0, (0.0,))
    with pytest.raises(InputError, match="give 2, one for each mode"):
        best_policy([known(Weibull(2, 300))] * 2, COSTS, 0.9)


@given(st.floats(1, 5), st.floats(20, 2000), st.floats(0, 3000), st.just(0.0) | st.floats(1e-3, 500))
def test_the_risk_under_one_law_is_its_own(shape: float, scale: float, age: float, holes: float) -> None:
    """1 - S(a + n) / S(a), as `Weibull.chance_of_failing`; of n that the age can resolve to six digits."""
    law = Weibull(shape, scale)
    found = chance_of_failing(known(law), (age,), holes, 0.9)
    assert float(law.chance_of_failing(age, holes)) == pytest.approx(found.value, rel=1e-6, abs=1e-12)


@given(st.integers(0, 99), st.sampled_from(["none", "all", "some"]), st.floats(0.5, 5))
def test_risks_ahead_are_those_of_a_tap_that_made_the_holes(seed: int, frail: str, times: float) -> None:
    """Each of the table is what is said of the tap once it has made them, with its interval."""
    rng = np.random.default_rng(seed)
    frailty = {"none": np.zeros(40), "all": rng.gamma(2, 0.3, 40), "some": rng.choice([0.0, 0.7], 40)}[frail]
    draws = Draws(rng.normal(0.7, 0.2, (40, 2)), rng.normal(5.5, 0.5, (40, 2)), frailty, rng.normal(0, 1, 40))
    further, batches = (0, 30, 400), (10, 120)
    table = chances_ahead(draws, (20.0, 60.0), further, batches, 0.9, hazard_ratio=times)
    for row, more in zip(table, further, strict=True):
        for found, batch in zip(row, batches, strict=True):
            one = chance_of_failing(draws, (20.0, 60.0 + more), batch, 0.9, hazard_ratio=times)
            assert pytest.approx([one.value, one.lower, one.upper], rel=1e-10) == [
                found.value, found.lower, found.upper
            ]  # fmt: skip


def test_a_hazard_times_two_is_to_live_through_it_twice() -> None:
    """1 - (1 - p)^2, with its interval's ends."""
    law = known(Weibull(2, 300))
    once, twice = (chance_of_failing(law, (200,), 50, 0.9, hazard_ratio=times) for times in (1.0, 2.0))
    assert [once.value, once.lower, once.upper] != [None] * 3
    for one, two in zip((once.value, once.lower, once.upper), (twice.value, twice.lower, twice.upper), strict=True):
        assert pytest.approx(1 - (1 - (one or 0)) ** 2) == two


def test_a_past_elsewhere_counts_for_what_it_used_up() -> None:
    """100 holes where taps last 200 are worth 300 where they last 600."""
    hard, mild = Weibull(2.0, 200.0), Weibull(2.0, 600.0)
    both = known(hard, mild)
    assert 300 == pytest.approx(equivalent_holes(both, (100.0, 0.0)))
    assert float(mild.chance_of_failing(300, 50)) == pytest.approx(
        chance_of_failing(both, (100.0, 0.0), 50, 0.9).value or 0
    )


def test_a_tap_that_lasted_long_is_likely_a_good_one() -> None:
    """With frailty the same age means less risk than without: weak taps are gone by then."""
    law = Weibull(2.0, 300.0)
    plain, frail = (chance_of_failing(known(law, frailty=theta), (500.0,), 50, 0.9).value for theta in (0.0, 1.0))
    assert plain is not None
    assert frail is not None
    assert frail < 0.5 * plain


@given(st.integers(0, 10**6), st.floats(0.0, 7.0), st.floats(0.05, 0.7), st.floats(1.5, 60.0))
def test_the_saving_follows_from_the_costs_that_stand_beside_it(
    seed: int, shape: float, doubt: float, failure: float
) -> None:
    """However uncertain the distributions are; and it lies where they allow."""
    rng = np.random.default_rng(seed)
    log_shape, log_scale = (rng.normal(middle, doubt, (64, 1)) for middle in (np.log1p(shape), 6.0))
    found = best_policy([Draws(log_shape, log_scale, np.zeros(64), np.zeros(64))], Costs(1.0, (failure,)), 0.9)
    assert 1 - found.cost_per_hole / found.cost_per_hole_run_to_failure == pytest.approx(found.saving)
    if found.age is not None:
        assert found.saving_interval[0] <= found.saving <= found.saving_interval[1]
