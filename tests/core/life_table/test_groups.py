"""A table of lives by group: the same posterior as from a record, and answers for any table."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.decision.failure_probability import chance_of_any, chance_of_failing
from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.life_table.groups import competing_modes, group_posteriors
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.vocabulary import IsoGroup
from tests.core.random_lives import any_lives, mixed_lives

INF = math.inf
STEEL, STAINLESS = Condition("M8", "steel", IsoGroup.P, 10.0), Condition("M8", "V2A", IsoGroup.M, 6.0)


def alone(lives: Lives) -> IntArray:
    """All in the first group."""
    return np.zeros(len(lives), np.int64)


@pytest.mark.parametrize(
    ("modes", "expected"),
    [
        (["", ""], ("",)),
        (["break", ""], ("break", "wear")),
        (["wear", ""], ("break", "wear")),
        (["surge", "wear"], ("surge", "wear")),
    ],
)
def test_break_and_wear_compete_where_either_is_named(modes: list[str], expected: tuple[str, ...]) -> None:
    """A log of breaks alone does not mean that taps cannot wear; other words are taken as they come."""
    lives = Lives.of([5, 6], [5, 6 if modes[1] else INF], mode=modes) if modes[0] else Lives.of([5, 6], [5, INF])
    assert expected == competing_modes(lives)


def test_a_group_without_failures_leans_on_the_other() -> None:
    """One survivor of its own: nearly all is known from elsewhere, and its risk is not that of the neighbour."""
    lives = mixed_lives(3, 20)
    both = Lives.of([*lives.lower, 50], [*lives.upper, INF], [*lives.entry, 0])
    place = np.array([0] * len(lives) + [1])
    known, thin = group_posteriors(both, [STEEL, STAINLESS], place)
    assert known.shrinkage < 0.1 < 0.8 < thin.shrinkage
    assert (1, 0, 50.0) == (thin.evidence.taps, thin.evidence.failures, thin.evidence.holes)
    risks = [chance_of_any(group.draws, (100.0,), 50, 0.9) for group in (known, thin)]
    assert risks[0].upper - risks[0].lower < risks[1].upper - risks[1].lower


def test_any_failure_is_the_modes_together() -> None:
    """1 - product of surviving each, draw by draw; with one mode it is that mode's chance."""
    laws = [Draws(np.log([[2.0], [3.0]]), np.log([[300.0], [400.0]]), np.array([0.0, 0.5]), np.zeros(2)) for _ in "ab"]
    one = chance_of_failing(laws[0], (100.0,), 50, 0.9)
    assert one == chance_of_any(laws[:1], (100.0,), 50, 0.9)
    each = [1 - math.exp((100 / 300) ** 2 - (150 / 300) ** 2)]
    each.append(1 - ((1 + 0.5 * (150 / 400) ** 3) / (1 + 0.5 * (100 / 400) ** 3)) ** -2)
    both = chance_of_any(laws, (100.0,), 50, 0.9)
    assert sum(1 - (1 - chance) ** 2 for chance in each) / 2 == pytest.approx(both.value)


@given(any_lives.filter(len), st.floats(0.01, 1e6), st.floats(0.01, 1e6))
def test_any_lives_and_costs_give_advice(lives: Lives, planned: float, failure: float) -> None:
    """One life, ties, 10^9 holes: no crash, no warning, numbers in order."""
    (group,) = group_posteriors(lives, [STEEL], alone(lives))
    change = best_policy(group.draws, Costs(planned, (failure,)), 0.9, group.experience)
    risk = chance_of_any(group.draws, (100.0,), 50, 0.9)
    assert change.reason
    assert change.age is None or 1 <= change.age < INF
    assert change.saving_interval[0] <= change.saving_interval[1] < 1
    assert risk.value is not None
    assert 0 <= risk.lower <= risk.upper <= 1
    assert 0 <= risk.value <= 1
    assert 0 <= group.shrinkage <= 1
