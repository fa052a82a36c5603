"""What the page of lives rests on: which lives, which curves, and what may be chosen."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.survival_curve import survival_curve
from shopfloor.core.vocabulary import Mode, TapEnd
from shopfloor.core.weibull_fit.fit import fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.quality.life_curves import BEYOND, LifeCurve, LifeQuestion, life_curve
from shopfloor.services.runs.runs import log_run
from tests.factories import Shop

BAND = "6.3-10 m/min"
BROKE = (120, 200, 210, 260, 330)


def use(shop: Shop, *ages: int, end: TapEnd = TapEnd.BROKEN, job: str = "J1") -> None:
    """Use up a fresh M8 tap for each age, at 300 rpm."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        hole = age if end is TapEnd.BROKEN else None
        log_run(shop.work, shop.entry(tap=tap, holes=age, tap_end=end, broke_at_hole=hole, job=job, rpm=300))
        shop.clock.move(minutes=30)


def curve(shop: Shop, material: str | None = None, band: str | None = None, mode: Mode | None = None) -> LifeCurve:
    """The curve of M8 taps, which there must be."""
    found = life_curve(shop.work, LifeQuestion("M8 SP", material, band, mode)).curve
    assert found is not None
    return found


def test_before_the_first_life_there_is_nothing_to_choose(sqlite_shop: Shop) -> None:
    """An empty log is no error."""
    found = life_curve(sqlite_shop.work, LifeQuestion())
    assert (None, (), None) == (found.curve, found.choices.tap_types, found.advice)


def test_the_curves_are_those_of_the_core(sqlite_shop: Shop) -> None:
    """The page shows what the statistics say of exactly these lives."""
    use(sqlite_shop, *BROKE)
    use(sqlite_shop, 150, end=TapEnd.RETIRED_EARLY)
    lives = Lives.of([*BROKE, 150], [*BROKE, math.inf])
    found = curve(sqlite_shop)
    assert fit_weibull(lives).life_interval(0.1) == found.fit.life_interval(0.1)
    assert survival_curve(lives).survival.tolist() == found.steps.survival.tolist()
    assert (6, 5, 1270) == (found.evidence.taps, found.evidence.failures, found.evidence.holes)


def test_the_fit_is_drawn_a_little_beyond_the_data_and_no_further(sqlite_shop: Shop) -> None:
    """Solid up to the longest life, dashed up to 1.3 times that."""
    use(sqlite_shop, *BROKE)
    found = curve(sqlite_shop)
    assert (0, 330) == (found.inside.ages[0], found.inside.ages[-1])
    assert (330, BEYOND * 330) == (found.beyond.ages[0], found.beyond.ages[-1])


def test_the_rows_read_both_curves_at_round_ages(sqlite_shop: Shop) -> None:
    """At 200 holes two of five are gone; beyond 330 the log says nothing."""
    use(sqlite_shop, *BROKE)
    rows = {row.age: row for row in curve(sqlite_shop).rows}
    assert [50, 100, 150, 200, 250, 300, 350, 400] == list(rows)
    assert [1.0, pytest.approx(0.6), pytest.approx(0.2), None] == [rows[age].steps for age in (100, 200, 300, 350)]


def test_the_band_of_the_steps_never_rises(sqlite_shop: Shop) -> None:
    """What was surely lost is not found again."""
    use(sqlite_shop, *BROKE, 900)
    use(sqlite_shop, 100, 220, 700, end=TapEnd.WORN)
    assert np.all(np.diff(curve(sqlite_shop).steps.upper) <= 0)


def test_one_mode_takes_the_other_for_survival(sqlite_shop: Shop) -> None:
    """Two broke and one was worn: three lives, each mode with its own failures."""
    use(sqlite_shop, 120, 200)
    use(sqlite_shop, 150, end=TapEnd.WORN)
    by_mode = {mode: curve(sqlite_shop, mode=mode).evidence for mode in (None, *Mode)}
    assert {None: (3, 3), Mode.BREAK: (3, 2), Mode.WEAR: (3, 1)} == {
        mode: (known.taps, known.failures) for mode, known in by_mode.items()
    }


def test_no_failure_gives_a_bound_and_its_reason(sqlite_shop: Shop) -> None:
    """Three taps still good: no curve is fitted, yet something is known."""
    use(sqlite_shop, 200, 300, 400, end=TapEnd.STILL_GOOD)
    found = curve(sqlite_shop)
    assert isinstance(found.fit, NotEnoughData)
    assert "no failure yet" == found.fit.reason
    assert found.fit.life_interval(0.1)[0] > 0
    assert 1.0 == found.rows[0].steps
    assert found.rows[0].fitted is None


def test_only_what_exists_is_offered_with_its_counts(sqlite_shop: Shop) -> None:
    """Materials of this tap type, and speeds of the chosen material."""
    use(sqlite_shop, 120, 200)
    use(sqlite_shop, 150, end=TapEnd.STILL_GOOD, job="J2")
    choices = life_curve(sqlite_shop.work, LifeQuestion("M8 SP", "steel")).choices
    assert [("M8 SP", 3, 2)] == [(c.value, c.lives, c.failures) for c in choices.tap_types]
    assert [("stainless", 1, 0), ("steel", 2, 2)] == [(c.value, c.lives, c.failures) for c in choices.materials]
    assert [(BAND, 2, 2)] == [(c.value, c.lives, c.failures) for c in choices.speed_bands]


def test_a_life_over_two_materials_counts_once(sqlite_shop: Shop) -> None:
    """One tap, two stretches: one life in each material and one in all."""
    log_run(sqlite_shop.work, sqlite_shop.entry(tap="T1", holes=100))
    sqlite_shop.clock.move(hours=1)
    log_run(sqlite_shop.work, sqlite_shop.entry(tap="T1", holes=60, job="J2", tap_end=TapEnd.BROKEN, broke_at_hole=60))
    assert (1, 1, 160) == (
        curve(sqlite_shop).evidence.taps, curve(sqlite_shop).evidence.failures, curve(sqlite_shop).evidence.holes,
    )  # fmt: skip
    assert (1, 0) == (curve(sqlite_shop, "steel").evidence.taps, curve(sqlite_shop, "steel").evidence.failures)


def test_without_a_tap_type_the_one_with_most_failures_is_shown(sqlite_shop: Shop) -> None:
    """There is most to see."""
    log_run(sqlite_shop.work, sqlite_shop.entry(tap="B1", holes=30, job="J3", rpm=100))
    use(sqlite_shop, 120)
    assert "M8 SP" == life_curve(sqlite_shop.work, LifeQuestion()).question.tap_type


def test_a_place_without_lives_has_no_curve(sqlite_shop: Shop) -> None:
    """A known material in which this tap type was never used is no error."""
    use(sqlite_shop, 120)
    found = life_curve(sqlite_shop.work, LifeQuestion("M8 SP", "stainless"))
    assert (None, "Stainless steel") == (found.curve, found.material_name)


def test_advice_says_how_much_it_leans_on_others(sqlite_shop: Shop) -> None:
    """One break in stainless leans more on the taps in steel than those lean on it."""
    use(sqlite_shop, *BROKE)
    use(sqlite_shop, 150, job="J2")
    found = [life_curve(sqlite_shop.work, LifeQuestion("M8 SP", m, BAND)).advice for m in ("stainless", "steel")]
    stainless, steel = (1.0 if one is None else one.leaning for one in found)
    assert 0 < steel < stainless < 1


def test_a_wide_question_is_advised_where_most_is_known(sqlite_shop: Shop) -> None:
    """No one age fits any material at any speed: the advice names the one that it is for."""
    use(sqlite_shop, *BROKE)
    use(sqlite_shop, 150, job="J2")
    wide, exact = (life_curve(sqlite_shop.work, LifeQuestion("M8 SP", *rest)) for rest in ((), ("steel", BAND)))
    assert (f"Structural steel at {BAND}", None) == (wide.advised_for, exact.advised_for)
    assert wide.advice is not None
    assert exact.advice is not None
    assert wide.advice.change == exact.advice.change


@pytest.mark.parametrize(
    ("question", "message"),
    [
        (LifeQuestion("M9"), "tap type: 'M9' is not in the record"),
        (LifeQuestion("M8 SP", "cheese"), "material: 'cheese' is not in the record"),
        (LifeQuestion("M8 SP", "steel", "fast"), "speed: 'fast' is not a speed band"),
        (LifeQuestion("M8 SP", None, BAND), "speed: it needs a material"),
    ],
)
def test_what_is_not_known_is_refused_by_name(sqlite_shop: Shop, question: LifeQuestion, message: str) -> None:
    """The message names the field and says what would be right."""
    with pytest.raises(InputError, match=message):
        life_curve(sqlite_shop.work, question)
