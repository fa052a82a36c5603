"""What goes with longer lives: groups compared without a law, and effects of speed and material together."""

from __future__ import annotations

import math

import pytest

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.logrank import compare_lives
from shopfloor.core.vocabulary import Mode, TapEnd
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.quality.life_comparisons import LifeGroups
from shopfloor.services.quality.life_curves import LifeQuestion, life_curve
from shopfloor.services.runs.runs import log_run
from tests.factories import Shop

SLOW, FAST = (260, 300, 340, 380, 420, 460), (60, 90, 110, 130, 150, 190)


def use(shop: Shop, *ages: int, rpm: int = 300, job: str = "J1", end: TapEnd = TapEnd.BROKEN) -> None:
    """Use up a fresh M8 tap for each age."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        hole = age if end is TapEnd.BROKEN else None
        log_run(shop.work, shop.entry(tap=tap, holes=age, tap_end=end, broke_at_hole=hole, job=job, rpm=rpm))
        shop.clock.move(minutes=30)


def groups(shop: Shop, material: str | None = None, mode: Mode | None = None) -> LifeGroups:
    """What the page says of M8 taps."""
    found = life_curve(shop.work, LifeQuestion("M8 SP", material, None, mode)).groups
    assert found is not None
    return found


def test_speeds_are_compared_as_the_core_does(sqlite_shop: Shop) -> None:
    """The log-rank test of exactly these lives, slow first; and life falls with speed."""
    use(sqlite_shop, *FAST, rpm=450)
    use(sqlite_shop, *SLOW)
    found, known = groups(sqlite_shop), compare_lives([Lives.of(SLOW, SLOW), Lives.of(FAST, FAST)])
    assert found.comparison is not None
    assert ("speed", known.p_value, False) == (
        found.comparison.by, found.comparison.chance, found.comparison.has_middles
    )  # fmt: skip
    assert [(6, 6), (6, 6)] == [(group.taps, group.failures) for group in found.comparison.groups]
    assert list(known.expected) == pytest.approx([group.expected for group in found.comparison.groups])
    assert found.effects is not None
    (speed,) = found.effects.effects
    assert (None, None) == (speed.material, found.effects.reference)
    assert 0.1 < (speed.ratio.value or math.nan) < 0.5
    assert speed.ratio.upper < 1


def test_materials_are_compared_with_the_best_known(sqlite_shop: Shop) -> None:
    """Each other material has its factor, speed apart; a material without a failure is left out by name."""
    use(sqlite_shop, *SLOW, 240, 500)
    use(sqlite_shop, *FAST, job="J2")
    found = groups(sqlite_shop)
    assert found.comparison is not None
    assert ("material", 2) == (found.comparison.by, len(found.comparison.groups))
    assert found.effects is not None
    assert found.effects.reason is None
    (other,) = found.effects.effects
    assert other.material not in (None, found.effects.reference)
    assert other.ratio.upper < 1


def test_what_goes_together_cannot_be_told_apart(sqlite_shop: Shop) -> None:
    """Each material at its own speed: no effects, and the reason."""
    use(sqlite_shop, *SLOW)
    use(sqlite_shop, *FAST, job="J2", rpm=450)
    effects = groups(sqlite_shop).effects
    assert effects is not None
    assert ((), "each material was used at its own speed") == (effects.effects, (effects.reason or "")[:39])


def test_few_failures_show_no_effect(sqlite_shop: Shop) -> None:
    """Five for each effect; what would be enough is said."""
    use(sqlite_shop, *SLOW[:2])
    use(sqlite_shop, *FAST[:2], rpm=450)
    effects = groups(sqlite_shop).effects
    assert effects is not None
    assert "too few failures (4); 5 would be enough" == effects.reason


def test_intervals_count_at_their_middle(sqlite_shop: Shop) -> None:
    """Worn somewhere in their only run: the log-rank test takes the middle and says so; of breaks they tell nothing."""
    use(sqlite_shop, *SLOW, end=TapEnd.WORN)
    use(sqlite_shop, *FAST, rpm=450)
    both = groups(sqlite_shop).comparison
    assert both is not None
    assert ([6, 6], True) == ([group.failures for group in both.groups], both.has_middles)
    assert groups(sqlite_shop, mode=Mode.BREAK).comparison is None


def test_one_group_is_nothing_to_compare(sqlite_shop: Shop) -> None:
    """One material at one speed."""
    use(sqlite_shop, *SLOW)
    assert LifeGroups(None, None) == groups(sqlite_shop)
