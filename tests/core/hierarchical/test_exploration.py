"""How a young log is used to learn: careful where nothing is known, further where tap after tap was spared."""

from __future__ import annotations

import numpy as np

from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.hierarchical.model.exploration import SETTLED, Experience
from shopfloor.core.hierarchical.prediction.draws import Draws

COSTS = Costs(1.0, (10.0,))
RISING = Draws(np.full((200, 1), np.log(2.1)), 6.0 + np.linspace(-1, 1, 200)[:, None], np.zeros(200), np.zeros(200))
UNSURE = Draws(
    np.repeat([[0.0], [np.log(2.5)]], [130, 70], axis=0), np.full((200, 1), 6.0), np.zeros(200), np.zeros(200)
)
"""Two in three that taps do not wear."""


def age(laws: Draws, experience: Experience) -> float:
    """The age advised, which there is."""
    found = best_policy([laws], COSTS, 0.9, experience).age
    assert found is not None
    return found


def test_an_empty_log_starts_earlier_than_a_kept_age() -> None:
    """What one tap loses by an early change is less than what an age loses that is kept."""
    assert age(RISING, Experience(0)) < age(RISING, SETTLED)


def test_with_failures_the_start_becomes_the_kept_age() -> None:
    """The more failures, the nearer to the age of least expected regret."""
    ages = [age(RISING, Experience(n)) for n in (0, 5, 15, 50, 500)]
    assert ages == sorted(ages)
    assert abs(age(RISING, SETTLED) - ages[-1]) < 0.01


def test_spared_taps_are_used_further() -> None:
    """Six taps changed in time without a failure: the next may do more; a failure of its own takes that back."""
    spared, few, failed = (age(RISING, Experience(50, own, n)) for own, n in ((0, 6), (0, 2), (3, 6)))
    assert few < failed < spared
    assert Experience(50, 1, 6).optimism == Experience(50, 0, 6).optimism / 4


def test_a_young_log_may_be_wrong_about_a_change_and_an_old_one_goes_later() -> None:
    """What may well cost more is tried with no failure known; with a hundred only where little can be lost."""
    young, old = (best_policy([UNSURE], COSTS, 0.9, Experience(n)) for n in (0, 100))
    assert young.age is not None
    assert old.age is not None
    assert young.age < old.age
    assert old.saving_interval[0] > young.saving_interval[0]


def test_reach_and_youth_stay_within_0_and_1() -> None:
    """From nothing seen to everything."""
    seen = [Experience(f, o, s) for f in (0, 1, 1e9) for o in (0, 1, 1e9) for s in (0, 3, 1e9)]
    assert all(0 <= one.youth <= 1 and 0 <= one.optimism <= 1 for one in [*seen, SETTLED])


def test_a_known_law_has_one_best_age() -> None:
    """Where the distribution is known, a young log changes nothing."""
    law = Draws(np.full((3, 1), np.log(2.5)), np.full((3, 1), 6.0), np.zeros(3), np.zeros(3))
    assert abs(age(law, SETTLED) - age(law, Experience(0))) < 0.01 * age(law, SETTLED)
