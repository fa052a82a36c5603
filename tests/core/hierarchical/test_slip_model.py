"""Slips count as far as the shop's own log shows that they foretell breaks, and only so far."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, History, Use
from shopfloor.core.hierarchical.prediction.slip_model import NO_MODEL, SlipModel, SlipRuns, fit_slip_model
from shopfloor.core.vocabulary import IsoGroup, Mode

CONDITIONS = (
    Condition("M8", "steel", IsoGroup.P, 10.0), Condition("M8", "stainless", IsoGroup.M, 5.0),
    Condition("M6", "steel", IsoGroup.P, 10.0),
)  # fmt: skip
RUN, SHAPE, SCALE, RATE = 40, 1.6, 500.0, 0.03


def simulated(seed: int, power: float, taps: int = 250) -> SlipRuns:
    """Lives in runs of 40 holes; a tap's slips come theta times as often as usual, its hazard is theta^power times."""
    rng = np.random.default_rng(seed)
    rows = []
    for tap in range(taps):
        theta, place = rng.gamma(2, 0.5), int(rng.integers(len(CONDITIONS)))
        end = SCALE * (rng.exponential() / theta**power) ** (1 / SHAPE)
        last = min(int(end // RUN), 14)
        for run in range(last + 1):
            broke = run == last and end < (last + 1) * RUN
            made = max(1, math.ceil(end - run * RUN)) if broke else RUN
            rows.append((tap, place, made, rng.poisson(theta * RATE * made), broke))
    return runs_of(rows)


def runs_of(rows: Sequence[tuple[int, int, float, float, bool]]) -> SlipRuns:
    """From life, condition, holes, slips and whether it broke."""
    life, place, holes, slips, broke = np.array(rows, float).T
    whole = life.astype(np.int64), place.astype(np.int64), CONDITIONS
    return SlipRuns(*whole, holes, holes, np.zeros(len(life)), slips, broke > 0)


def known_of(runs: SlipRuns) -> Posterior:
    """The posterior of breaks from these lives."""
    histories = []
    for life in dict.fromkeys(runs.life.tolist()):
        here = runs.life == life
        age, place = float(runs.holes[here].sum()), int(runs.condition[here][0])
        broke = bool(runs.broke[here][-1])
        mode = Mode.BREAK.value if broke else ""
        histories.append(History((Use(place, age),), age, age if broke else math.inf, 0.0, mode))
    return posterior(Histories.of(histories), CONDITIONS, Mode.BREAK.value)


@pytest.fixture(scope="module")
def told() -> tuple[SlipRuns, Posterior, SlipModel]:
    """A log with informative slips, its posterior of breaks, and the slip model."""
    runs = simulated(1, power=1.0)
    known = known_of(runs)
    return runs, known, fit_slip_model(runs, known)


def test_a_power_that_is_there_is_found(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """Within what some 200 breaks allow; and the usual slips, which do not rise with use here."""
    _, _, law = told
    assert pytest.approx(1.0, abs=0.4) == law.strength
    assert pytest.approx(RATE, rel=0.3) == law.rates["", ""] * law.by_age[2]


def test_slips_that_tell_nothing_hardly_count() -> None:
    """A fifth of the power, on the mean over ten shops."""
    strengths = [
        fit_slip_model(runs, known_of(runs)).strength for runs in (simulated(s, power=0.0, taps=80) for s in range(10))
    ]
    assert np.mean(strengths) < 0.2


def test_few_breaks_teach_nothing(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """Four that slipped before they broke may be chance."""
    _, known, _ = told
    rows = [(tap, 0, *run) for tap in range(4) for run in ((40, 9, False), (20, 0, True))]
    few = runs_of([*rows, (4, 0, 40, 0, False), (4, 0, 40, 0, False)])
    assert fit_slip_model(few, known) is NO_MODEL


def test_without_a_break_or_a_slip_nothing_is_learned(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """Nor where no run told of slips; the factor then is 1."""
    runs, known, _ = told
    none = np.zeros(len(runs.life))
    for thin in (replace(runs, broke=none > 0), replace(runs, slips=none), replace(runs, slips=none + math.nan)):
        law = fit_slip_model(thin, known)
        assert law is NO_MODEL
        assert {} == law.now(thin, known)
        assert np.exp(law.before_each(thin, known)) == pytest.approx(1.0)


def test_slips_raise_the_risk_of_the_tap_that_made_them(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """More of them by more; a tap that never slipped is below 1; what it rests on is told."""
    _, known, law = told
    found = law.now(runs_of([(n, 0, 80, slips, False) for n, slips in enumerate((0, 3, 9))]), known)
    assert found[0].factor < 1 < found[1].factor < found[2].factor
    assert (80, 9) == (found[2].holes, found[2].slips)
    assert 1 < found[2].usual < 4


def test_runs_that_told_no_slips_say_nothing(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """Neither for nor against the tap."""
    _, known, law = told
    assert 1.0 == law.now(runs_of([(0, 0, 80, math.nan, False)]), known)[0].factor


def test_the_order_of_lives_never_matters(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """The same slip model from the last tap to the first."""
    runs, known, law = told
    order = np.lexsort((np.arange(len(runs.life)), -runs.life))
    turned = SlipRuns(
        runs.life.max() - runs.life[order], runs.condition[order], CONDITIONS, runs.holes[order],
        runs.life_holes[order], runs.before[order], runs.slips[order], runs.broke[order],
    )  # fmt: skip
    again = fit_slip_model(turned, known)
    assert pytest.approx(law.strength, abs=2e-3) == again.strength
    assert pytest.approx(dict(law.rates)) == again.rates


@settings(max_examples=30)
@given(st.lists(st.tuples(st.integers(2, 90), st.integers(0, 6)), min_size=1, max_size=6), st.integers(0, 5))
def test_splitting_a_run_changes_nothing(
    told: tuple[SlipRuns, Posterior, SlipModel], made: list[tuple[int, int]], place: int
) -> None:
    """What slips say of a tap is the same whether a run was logged at once or in two halves.

    Its slips fall to the halves as they are expected there: a worn tap slips more often in the second.
    """
    _, known, law = told
    whole = [(0, 0, holes, slips, False) for holes, slips in made]
    place = min(place, len(made) - 1)
    holes, slips = made[place]
    silent = [*whole[:place], *2 * [(0, 0, holes / 2, 0, False)], *whole[place + 1 :]]
    usual = law.counts(runs_of(silent), known)[2, place : place + 2]
    halves = [(0, 0, holes / 2, slips * float(share), False) for share in usual / usual.sum()]
    split = [*whole[:place], *halves, *whole[place + 1 :]]
    one, other = (law.now(runs_of(rows), known)[0] for rows in (whole, split))
    assert pytest.approx(one.factor, rel=1e-9) == other.factor
    assert pytest.approx(one.usual, rel=1e-9) == other.usual


@pytest.mark.parametrize("holes", [1, 1e9])
@pytest.mark.parametrize("slips", [0, 1e9])
def test_extreme_runs_neither_crash_nor_warn(
    told: tuple[SlipRuns, Posterior, SlipModel], holes: float, slips: float
) -> None:
    """Warnings are errors here."""
    _, known, law = told
    rows = runs_of([(0, 0, holes, slips, False), (0, 1, holes, slips, True), (1, 2, holes, slips, False)])
    assert math.isfinite(fit_slip_model(rows, known).strength)
    assert all(0.19 < one.factor < 5.01 for one in law.now(rows, known).values())
    assert {} == law.now(rows.since(5), known)


def test_a_condition_never_seen_is_told_by_its_neighbours(told: tuple[SlipRuns, Posterior, SlipModel]) -> None:
    """A new type in steel has the slips of steel, one in a new material those of all."""
    _, known, law = told
    new = (Condition("M10", "steel", IsoGroup.P, 10.0), Condition("M10", "brass", IsoGroup.N, 20.0))
    runs = replace(runs_of([(0, 0, 80, 2, False), (1, 1, 80, 2, False)]), conditions=new)
    assert all(one.usual > 0 for one in law.now(runs, known).values())
