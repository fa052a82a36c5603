"""What holes and taps are like, in the pooled posterior; and that the way in which lives are cut up never matters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior
from shopfloor.core.hierarchical.model.conditions import REGROUND, Condition, Histories, History, Trait, Use
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.prediction.draws import draw
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.vocabulary import IsoGroup
from tests.core.hierarchical.shops import CONDITIONS, points

C = len(CONDITIONS)
THROUGH, BLIND = (((Trait.HOLE, which),) for which in ("through", "blind"))
uses = st.lists(st.tuples(st.integers(0, C - 1), st.integers(2, 90)), min_size=1, max_size=6)


def cut(told: list[tuple[int, int]], first: int) -> tuple[Use, ...]:
    """The same uses, each in two pieces."""
    pieces = [(place, part) for place, holes in told for part in (min(first, holes - 1), holes - min(first, holes - 1))]
    return tuple(Use(place, part) for place, part in pieces)


def merged(told: list[tuple[int, int]]) -> tuple[Use, ...]:
    """The same uses, neighbours of one condition joined."""
    joined: list[Use] = []
    for place, holes in told:
        if joined and joined[-1].condition == place:
            joined[-1] = Use(place, joined[-1].holes + holes)
        else:
            joined.append(Use(place, holes))
    return tuple(joined)


@given(uses, st.integers(1, 40), st.sampled_from(["", "exact", "between"]), st.integers(0, 1))
def test_cutting_a_life_up_or_joining_its_pieces_changes_nothing(
    told: list[tuple[int, int]], first: int, end: str, late: int
) -> None:
    """Value, gradient and curvature are the same however the uses of one condition are split, beside other lives."""
    total = sum(holes for _, holes in told)
    lower = total if end != "between" else total - 1
    upper, mode = (np.inf, "") if not end else (total, "break")
    others = [History((Use(1, 90), Use(3, 40)), 100, 130, mode="wear"), History((Use(1, 90),), 90, 90, mode="break")]
    b, m, frailty = points(5)
    found = [
        ModeLikelihood(Histories.of([History(pieces, lower, upper, late, mode), *others]), "break", C).log_likelihood(
            b, m, frailty
        )
        for pieces in (tuple(Use(*one) for one in told), cut(told, first), merged(told))
    ]
    for other in found[1:]:
        for name in ("value", "by_b", "by_m", "bb", "bm", "mm"):
            assert getattr(found[0], name) == pytest.approx(getattr(other, name), rel=1e-9, abs=1e-9)


def shop(*traits: tuple[tuple[Trait, str], ...], ages: tuple[float, ...]) -> tuple[Histories, list[Condition]]:
    """A condition for each set of traits, with 20 lives around each age."""
    conditions = [Condition("A", "mild", IsoGroup.P, 8.0, told) for told in traits]
    around = np.linspace(0.5, 1.5, 20)
    lives = np.concatenate([age * around for age in ages])
    told = Lives.of(lives, lives, mode=["break"] * len(lives))
    return Histories.plain(told, np.repeat(np.arange(len(traits)), 20)), conditions


def scale(known: Posterior, condition: Condition) -> float:
    """Median characteristic life there."""
    return float(np.exp(np.median(draw(known, [condition]).log_scale)))


def test_a_trait_seen_in_one_tap_type_tells_of_another() -> None:
    """Blind holes halve the life of one tap type: a type seen in through holes alone must lose by them too."""
    histories, conditions = shop(THROUGH, BLIND, THROUGH, ages=(400.0, 200.0, 600.0))
    conditions[2] = replace(conditions[2], family="B")
    known = posterior(histories, conditions, "break")
    assert 0.65 > scale(known, conditions[1]) / scale(known, conditions[0])
    assert 0.85 > scale(known, replace(conditions[2], traits=BLIND)) / scale(known, conditions[2])


def test_a_reground_tap_is_expected_to_last_a_little_less() -> None:
    """Before any reground life is seen: about a fifth less, and less sure."""
    histories, (fresh,) = shop((), ages=(400.0,))
    known = posterior(histories, [fresh], "break")
    reground = replace(fresh, traits=((Trait.REGRIND, REGROUND),))
    assert 0.82 == pytest.approx(scale(known, reground) / scale(known, fresh), abs=0.08)
    spread = [np.sqrt(known.weight @ known.normal([one])[1][:, 1, 1]) for one in (fresh, reground)]
    assert spread[0] < spread[1]


def test_traits_share_the_groups_own_deviation() -> None:
    """A condition that differs by traits alone borrows from its group; another tap type borrows everything."""
    histories, (through,) = shop(THROUGH, ages=(400.0,))
    known = posterior(histories, [through], "break")
    assert known.shrinkage(through) < 0.1
    assert known.shrinkage(through) < known.shrinkage(replace(through, traits=BLIND)) < 1
    assert 1 == known.shrinkage(replace(through, family="B"))


def test_conditions_of_one_group_are_drawn_together() -> None:
    """They have one shape, draw by draw, and scales of their own: a tap may have been used in both."""
    histories, conditions = shop(THROUGH, BLIND, ages=(400.0, 300.0))
    laws = draw(posterior(histories, conditions, "break"), conditions)
    assert laws.log_shape[:, 0] == pytest.approx(laws.log_shape[:, 1], abs=1e-3)
    assert np.ptp(laws.log_scale[:, 0] - laws.log_scale[:, 1]) > 0.1


def test_leaning_counts_all_lives_of_the_group() -> None:
    """As many lives over two kinds of hole tell as much of the group as over one, less what the kinds cost."""
    one, (alone,) = shop(THROUGH, ages=(400.0,))
    two, (through, _) = shop(THROUGH, BLIND, ages=(400.0, 400.0))
    whole, shared = posterior(one, [alone], "break"), posterior(two, [through, replace(through, traits=BLIND)], "break")
    assert shared.shrinkage(through) <= whole.shrinkage(alone)
