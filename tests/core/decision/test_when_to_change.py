"""Whether and when to change a tap: what is said never contradicts itself, and costs no more than it must."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from shopfloor.core.decision import replacement_age
from shopfloor.core.decision.failure_probability import expected_failure_rate
from shopfloor.core.decision.replacement import cost_per_hole
from shopfloor.core.decision.replacement_age import FLAT, LEVELS, Costs, ReplacementPolicy, best_policy
from shopfloor.core.decision.when_to_change import Action, Decision, Timing, brought_forward, decide, undecided
from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.survival.weibull import Weibull
from tests.decisions import CASES

STOP = 0.2
COSTS = Costs(1.0, (10.0,), STOP)
STEEP = Weibull(5.0, 400.0)
BATCH = 300
GROWING = (Action.CARRY_ON, Action.AFTER, Action.WITHIN, Action.CHANGE_NOW)


def known(*laws: Weibull) -> Draws:
    """Known distributions: three equal draws, one condition each."""
    b, m = (np.log([[getattr(law, name) for law in laws]] * 3) for name in ("shape", "scale"))
    return Draws(b, m, np.zeros(3), np.zeros(3))


def change(law: Weibull, stop: float = STOP) -> ReplacementPolicy:
    """The advice for a known distribution."""
    return best_policy([known(law)], replace(COSTS, stop=stop), 0.9)


def decision(law: Weibull, made: int, batch: int, stop: float = STOP) -> Decision:
    """What to do about a tap of that age that was only used so."""
    return decide(made, batch, Timing.of(change(law, stop), made, made))


@st.composite
def drawn(draw: st.DrawFn, widest: float = 0.6) -> Draws:
    """Draws as a thin log leaves them: uncertain shapes and scales, some frailty, uneven weights."""
    seed, wide = draw(st.integers(0, 10**6)), draw(st.floats(0.05, widest))
    rng = np.random.default_rng(seed)
    n = 64
    shape = rng.normal(np.log(draw(st.floats(1.0, 7.0))), wide / 2, (n, 1))
    scale = rng.normal(np.log(draw(st.floats(20.0, 3000.0))), wide, (n, 1))
    return Draws(shape, scale, np.where(rng.random(n) < 0.3, rng.random(n), 0.0), rng.normal(0, 0.5, n))


@st.composite
def timings(draw: st.DrawFn) -> Timing:
    """When a tap is best changed: from uncertain draws, after a past, with slips; in batches of any cost to stop."""
    laws, stop = draw(drawn()), draw(st.sampled_from([0.0, 0.2, 2.0]))
    costs = Costs(1.0, (draw(st.floats(2.0, 60.0)),), stop)
    found = best_policy([laws], costs, 0.9)
    made, used = draw(st.integers(0, 400)), draw(st.floats(0, 400))
    brought = brought_forward([laws], found, costs, [draw(st.sampled_from([1.0, 1.3, 2.0, 5.0]))])
    timing = Timing.of(found, used, made, brought)
    return timing or Timing(400, 400, (330, 300), (), stop)


MADE, BATCHES = st.integers(0, 4000), st.integers(1, 1500)


@given(timings(), MADE, BATCHES)
def test_what_is_said_never_contradicts_itself(timing: Timing, made: int, batch: int) -> None:
    """Every number said is that of the best age, and lies on its near side; an end past it is near enough."""
    found = decide(made, batch, timing)
    assert timing.change_at == found.change_at
    assert (made >= timing.change_at) <= (found.action is Action.CHANGE_NOW)
    if found.action is Action.CARRY_ON:
        assert found.batches is not None
        assert made + batch * found.batches <= timing.change_at < made + batch * (found.batches + 1)
    if found.action is Action.WITHIN:
        assert found.after_hole is not None
        assert 0 < found.after_hole < batch
        assert timing.change_at == made + found.after_hole
    if found.past_best:
        assert timing.change_at + found.past_best == made + batch
        assert timing.lost_at(made + batch) <= timing.stop + FLAT
    if found.short_of_best:
        assert made < timing.change_at < made + batch
        assert timing.lost_at(made) <= timing.stop + FLAT


@given(timings(), BATCHES, st.lists(MADE, min_size=2, max_size=20))
def test_more_holes_never_turn_a_change_into_carrying_on(timing: Timing, batch: int, made: list[int]) -> None:
    """What to do only grows more urgent as a tap ages."""
    places = [GROWING.index(decide(one, batch, timing).action) for one in sorted(made)]
    assert places == sorted(places)


@given(timings(), MADE, BATCHES)
def test_a_change_that_was_foretold_comes(timing: Timing, made: int, batch: int) -> None:
    """Who carries on as told, and changes when told, is never told otherwise between."""
    found = decide(made, batch, timing)
    after = decide(made + batch, batch, timing)
    if found.action is Action.AFTER:
        assert Action.CHANGE_NOW is after.action
    if found.action is Action.CARRY_ON:
        assert Action.CHANGE_NOW is not after.action
        assert (found.batches or 0) - 1 <= (after.batches or 1)


@settings(max_examples=40)
@given(drawn(widest=0.2), st.floats(2.0, 60.0), MADE, BATCHES)
def test_nothing_said_is_where_a_search_ends(laws: Draws, failure: float, made: int, batch: int) -> None:
    """The ages searched may reach further: the same is said, but for a hole."""
    costs = Costs(1.0, (failure,), STOP)
    before, grid = best_policy([laws], costs, 0.9), replacement_age.AGES
    try:
        replacement_age.AGES = np.append(grid, grid[-1] * (grid[-1] / grid[-2]) ** np.arange(1, 12))
        replacement_age.NEVER += 11
        after = best_policy([laws], costs, 0.9)
    finally:
        replacement_age.AGES, replacement_age.NEVER = grid, replacement_age.NEVER - 11
    if (before.age is None) != (after.age is None):
        # At the border of what is worth saying, the last of the ages tips the scales.
        assert max(before.saving, after.saving) < 2 * replacement_age.WORTH_SAYING
        return
    was, is_now = (decide(made, batch, Timing.of(one, made, made)) for one in (before, after))
    assert (was.left or 0) == pytest.approx(is_now.left or 0, rel=1e-2, abs=1)
    if was.left == is_now.left:
        assert (was.after_hole, was.batches) == (is_now.after_hole, is_now.batches)


@given(drawn(), st.floats(2.0, 60.0), st.lists(st.floats(0.2, 5.0), min_size=2, max_size=6))
def test_the_more_slips_the_earlier_the_change(laws: Draws, failure: float, times: list[float]) -> None:
    """Never later than its kind, and not at all for slips as usual or better."""
    costs = Costs(1.0, (failure,))
    found = best_policy([laws], costs, 0.9)
    shares = [brought_forward([laws], found, costs, [one]) for one in sorted(times)]
    assert shares == sorted(shares, reverse=True)
    assert all(0 < share <= 1 for share in shares)
    assert all(share == 1 for share, one in zip(shares, sorted(times), strict=True) if one <= 1)


@pytest.mark.parametrize(("shape", "times"), [(2.5, 1.5), (3.0, 2.0), (5.0, 5.0)])
def test_slips_count_as_the_hazard_says(shape: float, times: float) -> None:
    """With one draw the change is due where the raised hazard equals that of a usual tap at its age, by formula."""
    law = Weibull(shape, 400.0)
    share = brought_forward([known(law)], change(law), COSTS, [times])
    assert times ** (-1 / (shape - 1)) == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize(("timing", "made", "batch", "action"), CASES)
def test_the_shared_cases_are_decided_so(timing: dict[str, Any], made: int, batch: int, action: str) -> None:
    """As the tablet decides them without network."""
    told = None if timing["change_at"] is None else Timing(**timing, usual_at=timing["change_at"])
    assert action == decide(made, batch, told).action.value


def lost_by_hand(law: Weibull, age: float, batch: int, stop: float) -> np.ndarray:
    """What changing after each hole of this batch, and at the ends of the next, costs over the long run, of a tap."""
    advised = change(law, stop).age or 0.0
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

    found = np.array([lost(holes) for holes in (*range(batch + 1), *(n * batch for n in range(2, 8)))])
    return found - found.min()


@pytest.mark.parametrize("age", [0, 60, 120, 170, 200, 240, 300, 420])
@pytest.mark.parametrize("batch", [40, 300])
def test_the_decision_is_the_cheapest_by_hand(age: int, batch: int) -> None:
    """Whatever is advised loses no more than `FLAT` against the best of all moments."""
    found, lost = decision(STEEP, age, batch), lost_by_hand(STEEP, age, batch, STOP)
    of_action = {
        Action.CHANGE_NOW: lost[0],
        Action.AFTER: lost[batch],
        Action.CARRY_ON: min(lost[batch:]),
        Action.WITHIN: lost[found.after_hole or 0],
    }
    assert of_action[found.action] <= FLAT + 5e-3


def test_the_actions_follow_each_other_as_a_tap_ages() -> None:
    """In a batch larger than most lives: change within, a fresh tap now when old; the hole comes nearer."""
    found = [decision(STEEP, age, BATCH) for age in range(0, 400, 20)]
    assert {Action.WITHIN, Action.CHANGE_NOW} == {one.action for one in found}
    within = [one.after_hole for one in found if one.after_hole is not None]
    assert all(later < earlier for earlier, later in pairwise(within))


def test_small_batches_are_rounded_to() -> None:
    """Where a batch more or less makes no difference, the change waits for the end of one."""
    actions = {decision(STEEP, age, 8).action for age in range(0, 400, 10)}
    assert {Action.CARRY_ON, Action.AFTER, Action.CHANGE_NOW} >= actions


def test_a_fresh_tap_is_told_how_many_batches_it_does() -> None:
    """As many as fit into the advised age."""
    age = change(STEEP).age
    assert age is not None
    assert int(age) // 20 == decision(STEEP, 0, 20).batches


def test_a_dearer_stop_keeps_changes_at_the_ends() -> None:
    """Nobody interrupts a batch that costs a great deal to interrupt."""
    assert [Action.WITHIN, Action.CHANGE_NOW] == [decision(STEEP, 100, BATCH, stop=stop).action for stop in (0.0, 9.0)]


def test_where_nothing_is_gained_the_tap_runs_on() -> None:
    """A flat hazard never asks for a change, however likely slips make a break."""
    assert Decision(Action.RUN_ON, 900, 50, None, None) == decision(Weibull(1.0, 400.0), 900, 50)
    assert 1.0 == brought_forward([known(Weibull(1.0, 400.0))], change(Weibull(1.0, 400.0)), COSTS, [5.0])


def test_a_past_elsewhere_counts_for_what_it_used_up() -> None:
    """100 holes that used up as much as 200 of this kind: the change comes 100 holes earlier; none past is hidden."""
    plain = Timing.of(change(STEEP), 100, 100)
    worn = Timing.of(change(STEEP), 200, 100)
    assert plain is not None
    assert worn is not None
    assert plain.change_at - 100 == worn.change_at
    old = decide(100, 40, Timing.of(change(STEEP), 500, 100))
    assert old.left is not None
    assert old.left < -200


def test_of_a_tap_of_unknown_holes_only_its_kind_is_told() -> None:
    """Neither a hole nor a number of batches."""
    found = undecided(None, 40, 300)
    assert (Action.NOT_KNOWN, 300, None, None, None) == (
        found.action, found.change_at, found.left, found.after_hole, found.batches,
    )  # fmt: skip


def test_what_other_ages_lose_is_what_they_cost() -> None:
    """At each level the cost per hole, worked out one by one, is higher by so much; a stop is told by a tap's cost."""
    found = change(STEEP)
    assert found.age is not None
    assert found.losses is not None
    for ages in (found.losses.early, found.losses.late):
        lost = [cost_per_hole(STEEP, age, 1.0, 10.0) / cost_per_hole(STEEP, found.age, 1.0, 10.0) - 1 for age in ages]
        assert LEVELS[: len(ages)] == pytest.approx(lost, rel=0.03, abs=4e-3)
    assert STOP / (found.cost_per_hole * found.holes_per_tap) == pytest.approx(found.losses.stop)
    assert (len(LEVELS), len(LEVELS)) == (len(found.losses.early), len(found.losses.late))


@given(timings(), MADE, MADE)
def test_the_further_from_the_best_age_the_more_is_lost(timing: Timing, one: int, other: int) -> None:
    """Nothing at the age itself; on either side ever more."""
    assert 0 == timing.lost_at(timing.change_at)
    near, far = sorted((one, other))
    for sign in (-1, 1):
        lost = [timing.lost_at(timing.change_at + sign * away) for away in (near, far)]
        assert lost == sorted(lost)


def test_the_usual_rate_is_breaks_per_hole() -> None:
    """Run to failure a tap breaks once in its mean life; changed in time far less often."""
    flat = Weibull(1.0, 400.0)
    assert 1 / 400 == pytest.approx(expected_failure_rate([known(flat)], 0, change(flat)), rel=0.03)
    assert expected_failure_rate([known(STEEP)], 0, change(STEEP)) < 0.3 / 367


def test_a_batch_of_no_hole_and_a_cost_below_nothing_are_refused() -> None:
    """The error names the number."""
    with pytest.raises(InputError, match="0 is not a batch size"):
        decision(STEEP, 0, 0)
    with pytest.raises(InputError, match="-1 is not a valid cost"):
        Costs(1.0, (10.0,), -1)
