"""How many taps to keep: tables of the Poisson law, and what must hold for any use."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.floor.stock import (
    COVER,
    PlannedWork,
    chance_of_covering,
    need,
    order_quantity,
    reorder_point_poisson,
)
from tests.published.stock import CRITICAL_RATIOS, REORDER_POINTS

USES = st.floats(0, 500)
TARGETS = st.floats(0.01, 0.999)


@pytest.mark.parametrize(("use", "target", "level", "covered"), REORDER_POINTS)
def test_the_reorder_point_is_that_of_the_tables(use: float, target: float, level: int, covered: float) -> None:
    """Molina's tables of the Poisson law tell the same stock and the same chance."""
    assert level == reorder_point_poisson(use, target)
    assert covered == pytest.approx(chance_of_covering(level, use), abs=1e-8)


@pytest.mark.parametrize(("use", "under", "over", "order"), CRITICAL_RATIOS)
def test_the_critical_ratio_gives_the_cheapest_order(use: float, under: float, over: float, order: int) -> None:
    """With the target under / (under + over) the level is the newsvendor's order."""
    assert order == reorder_point_poisson(use, under / (under + over))


@given(USES, TARGETS)
def test_the_level_is_the_smallest_that_covers(use: float, target: float) -> None:
    """One tap fewer would not reach the target."""
    level = reorder_point_poisson(use, target)
    assert target <= chance_of_covering(level, use) + 1e-12
    assert level == 0 or chance_of_covering(level - 1, use) < target + 1e-12


@given(USES, USES, TARGETS)
def test_more_use_never_needs_less_stock(one: float, other: float, target: float) -> None:
    """The level rises with the use."""
    low, high = sorted((one, other))
    assert reorder_point_poisson(low, target) <= reorder_point_poisson(high, target)


@given(USES, TARGETS, TARGETS)
def test_more_surety_never_needs_less_stock(use: float, one: float, other: float) -> None:
    """The level rises with the target."""
    low, high = sorted((one, other))
    assert reorder_point_poisson(use, low) <= reorder_point_poisson(use, high)


@given(st.integers(-50, 200), st.integers(0, 200))
def test_the_order_fills_up_to_the_level_and_no_further(on_hand: int, level: int) -> None:
    """Stock and order reach the level; nothing is ordered beyond it."""
    order = order_quantity(on_hand, level)
    assert max(on_hand, level) == on_hand + order
    assert order >= 0


@pytest.mark.parametrize(
    ("use", "target"), [(-1, 0.9), (math.nan, 0.9), (math.inf, 0.9), (5, 0), (5, 1), (5, math.nan)]
)
def test_an_impossible_use_or_target_is_refused(use: float, target: float) -> None:
    """The message names what cannot be."""
    with pytest.raises(InputError, match=r"mean use|target"):
        reorder_point_poisson(use, target)


def test_the_plan_counts_where_it_asks_for_more_than_the_past() -> None:
    """1,300 holes at 130 a tap are 10 taps, 8 of them new where 2 in 10 come back reground."""
    planned = need([PlannedWork("J-1", 1300, 130), PlannedWork("J-2", 0, 50)], 21, 0.2, past_taps=3, past_days=90)
    assert planned.is_planned
    assert 1300 == planned.planned_holes
    assert 8.0 == pytest.approx(planned.taps)
    assert COVER <= chance_of_covering(planned.level, planned.taps)


def test_the_past_counts_where_the_plan_asks_for_less() -> None:
    """A plan is seldom complete: what was used lately will be used again."""
    planned = need([], 21, 0.0, past_taps=4.5, past_days=90)
    assert not planned.is_planned
    assert 4.5 == planned.taps
