"""The best moment in a batch, against integrals worked out one by one."""

from __future__ import annotations

from dataclasses import asdict
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from shopfloor.core.errors import InputError
from shopfloor.core.pool.advice import FLAT, Change, Costs, best_change
from shopfloor.core.pool.laws import Laws
from shopfloor.core.pool.moments import Moment, best_moment, usual_chance
from shopfloor.core.weibull import Weibull

COSTS, STOP = Costs(1.0, (10.0,)), 0.2
STEEP = Weibull(5.0, 400.0)
BATCH = 300


def known(*laws: Weibull) -> Laws:
    """These laws as if nothing were in doubt: three equal draws, one condition each."""
    b, m = (np.log([[getattr(law, name) for law in laws]] * 3) for name in ("shape", "scale"))
    return Laws(b, m, np.zeros(3), np.zeros(3))


def change(law: Weibull) -> Change:
    """The advice for one law."""
    return best_change([known(law)], COSTS, 0.9)


def moment(law: Weibull, age: float, batch: int, stop: float = STOP) -> Moment:
    """The best moment for a tap of that age."""
    return best_moment([(known(law), (age,))], batch, change(law), COSTS, stop)


def lost_by_hand(law: Weibull, age: float, batch: int, stop: float) -> np.ndarray:
    """W of every hole of this batch and of the ends of the next, by quadrature, as a share of a tap's cost."""
    advised = change(law).age or 0.0
    length = quad(lambda t: float(law.survival(t)), 0, advised)[0]
    failing = 1 - float(law.survival(advised))
    rate = (COSTS.planned * (1 - failing) + COSTS.failure[0] * failing) / length

    def survival(holes: float) -> float:
        return float(law.survival(age + holes) / law.survival(age))

    def lost(holes: int) -> float:
        made = quad(survival, 0, holes, epsabs=1e-10)[0]
        at_change = COSTS.planned + (stop if holes % batch else 0.0)
        left = survival(holes)
        return (at_change * left + COSTS.failure[0] * (1 - left) - rate * made) / (length * rate)

    return np.array([lost(holes) for holes in (*range(batch + 1), *(n * batch for n in range(2, 8)))])


@pytest.mark.parametrize("age", [0, 60, 120, 170, 200, 240, 300, 420])
@pytest.mark.parametrize("batch", [40, 300])
def test_the_moment_is_the_cheapest_by_hand(age: int, batch: int) -> None:
    """Whatever is advised loses no more than `FLAT` against the best of all moments, and within a batch nothing."""
    found, lost = moment(STEEP, age, batch), lost_by_hand(STEEP, age, batch, STOP)
    lost = lost - lost.min()
    assert (lost[0], min(lost[batch:])) == pytest.approx(
        (found.lost_by_fresh_now, found.lost_by_carrying_on), rel=0.02, abs=5e-3
    )
    of_deed = {"fresh now": lost[0], "carry on": min(lost[batch:]), "change within": lost[found.after_hole or 0]}
    assert of_deed[found.deed] <= FLAT + 5e-3


def test_the_deeds_follow_each_other_as_a_tap_ages() -> None:
    """In a batch larger than most lives: carry on while nothing else pays, change within, a fresh tap now when old."""
    order = ("carry on", "change within", "fresh now")
    deeds = [0, *(order.index(moment(STEEP, age, BATCH).deed) for age in range(0, 400, 20))]
    assert {0, 1, 2} == set(deeds)
    assert deeds == sorted(deeds)
    holes = [moment(STEEP, age, BATCH).after_hole for age in range(0, 400, 20)]
    within = [hole for hole in holes if hole is not None]
    assert all(later < earlier for earlier, later in pairwise(within))


def test_small_batches_are_rounded_to() -> None:
    """Where a batch more or less makes no difference, the change waits for the end of one."""
    deeds = {moment(STEEP, age, 8).deed for age in range(0, 400, 10)}
    assert {"carry on", "fresh now"} == deeds


def test_a_fresh_tap_is_told_how_many_batches_it_does() -> None:
    """As many as fit into the advised age, to the nearest."""
    age = change(STEEP).age
    assert age is not None
    assert moment(STEEP, 0, 20).batches == pytest.approx(age / 20, abs=1)


def test_a_dearer_stop_keeps_changes_at_the_ends() -> None:
    """Nobody interrupts a batch that costs a great deal to interrupt."""
    assert ["change within", "fresh now"] == [moment(STEEP, 100, BATCH, stop=stop).deed for stop in (0.0, 9.0)]


def test_where_nothing_is_gained_the_tap_carries_on() -> None:
    """A flat hazard never asks for a change."""
    assert Moment("carry on", None, None, 0.0, 0.0) == moment(Weibull(1.0, 400.0), 900, 50)


def test_a_past_elsewhere_counts_for_what_it_used_up() -> None:
    """100 holes where taps last 200 are worth 200 where they last 400."""
    hard = Weibull(5.0, 200.0)
    mixed = best_moment([(known(hard, STEEP), (100.0, 0.0))], 120, change(STEEP), COSTS, STOP)
    assert asdict(mixed) == pytest.approx(asdict(moment(STEEP, 200, 120)))


def test_two_modes_share_the_cost() -> None:
    """Equal costs: two modes of scale 400 are one of scale 400 / 2^(1/5)."""
    both = best_change([known(STEEP)] * 2, Costs(1.0, (10.0, 10.0)), 0.9)
    found = best_moment([(known(STEEP), (30.0,))] * 2, BATCH, both, Costs(1.0, (10.0, 10.0)), STOP)
    one = moment(Weibull(5.0, 400 / 2**0.2), 30, BATCH)
    assert one.deed == found.deed
    assert one.after_hole == pytest.approx(found.after_hole, abs=2)


def test_the_usual_chance_is_breaks_per_hole_times_the_batch() -> None:
    """Run to failure a tap breaks once in its mean life; changed in time far less often."""
    flat = Weibull(1.0, 400.0)
    assert -np.expm1(-20 / 400) == pytest.approx(usual_chance([known(flat)], 0, change(flat), 20), rel=0.03)
    assert usual_chance([known(STEEP)], 0, change(STEEP), 20) < 0.3 * -np.expm1(-20 / 367)


def test_a_moment_is_plain_values() -> None:
    """So that it can be sent and kept as it is; a batch of no hole is refused."""
    assert all(isinstance(value, str | int | float | None) for value in asdict(moment(STEEP, 100, 120)).values())
    with pytest.raises(InputError, match="0 is no batch"):
        moment(STEEP, 0, 0)


def test_a_tap_that_is_likelier_to_break_is_changed_sooner() -> None:
    """By what else is known of it, as its slips: five times the hazard, and as much less of it."""
    law = (known(STEEP), (100.0,))
    plain, worse, better = (best_moment([law], BATCH, change(STEEP), COSTS, STOP, [times]) for times in (1.0, 5.0, 0.2))
    assert plain == best_moment([law], BATCH, change(STEEP), COSTS, STOP)
    assert worse.lost_by_carrying_on > plain.lost_by_carrying_on > better.lost_by_carrying_on
    assert ("change within", "fresh now") == (plain.deed, worse.deed)
