"""Cutting slips move the risk from tap to tap: by much where much was seen, by nothing where nothing was."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import gamma, nbinom

from shopfloor.core.errors import InputError
from shopfloor.core.hierarchical.prediction.slip_factor import (
    GAMMA_SHAPE,
    LARGEST_FACTOR,
    WINDOW,
    SlipEvidence,
    log_factor,
    recent,
)

counts = st.floats(0, 1e12)
strengths = st.floats(0, 20)


def times(slips: float, usual: float, strength: float = 1.0) -> float:
    """The factor on the hazard."""
    return float(np.exp(log_factor(slips, usual, strength)))


def seen(*runs: tuple[float, float, float]) -> list[float]:
    """Holes, slips and usual slips in the window after these runs of one life."""
    told = np.array(runs, float).T.reshape(3, -1)
    return list(recent(told, np.array([len(runs)]), np.array([0]))[:, 0])


def test_nothing_seen_says_nothing() -> None:
    """Exactly 1, however strongly slips count."""
    assert [1.0, 1.0, 1.0] == [times(0, 0, b) for b in (0, 1, 4)]


def test_few_holes_without_a_slip_say_little() -> None:
    """A tenth of a slip was usual: less than a tenth off."""
    assert 0.9 < times(0, 0.1) < 1


def test_many_slips_raise_the_hazard() -> None:
    """Worked by hand at b = 1, where the factor is ((k + s) / (k + e)): 8 where 3 are usual, 10 / 5."""
    assert pytest.approx(2.0) == times(8, 3)
    assert pytest.approx((GAMMA_SHAPE + 0) / (GAMMA_SHAPE + 3)) == times(0, 3)


@pytest.mark.parametrize(("slips", "usual", "strength"), [(0, 0.5, 0.7), (2, 1, 1.4), (7, 3, 0.4), (4, 3, 2)])
def test_it_is_the_ratio_of_two_means(slips: int, usual: float, strength: float) -> None:
    """The integral over the tap's own theta, with the slips seen and without."""
    after = gamma(GAMMA_SHAPE + slips, scale=1 / (GAMMA_SHAPE + usual))
    before = gamma(GAMMA_SHAPE, scale=1 / GAMMA_SHAPE)
    means = [quad(lambda x, law=law: x**strength * law.pdf(x), 0, 50)[0] for law in (after, before)]
    assert pytest.approx(means[0] / means[1], rel=1e-6) == times(slips, usual, strength)


@pytest.mark.parametrize("usual", [0.3, 1.0, 3.0])
@pytest.mark.parametrize("strength", [0.5, 1.5])
def test_it_leaves_the_level(usual: float, strength: float) -> None:
    """On the mean over taps, whose slips are gamma-Poisson, it is 1 but for what the limits take off."""
    slips = np.arange(200)
    chance = nbinom(GAMMA_SHAPE, GAMMA_SHAPE / (GAMMA_SHAPE + usual)).pmf(slips)
    assert pytest.approx(1.0, abs=0.03) == chance @ np.exp(log_factor(slips, usual, strength))


@given(counts, counts, counts, strengths)
def test_more_slips_never_lower_it(slips: float, more: float, usual: float, strength: float) -> None:
    """Nor do fewer usual ones; whatever the numbers, it stays within its limits."""
    found = times(slips, usual, strength)
    assert times(slips + more, usual, strength) >= found * (1 - 1e-9)
    assert times(slips, usual + more, strength) <= found * (1 + 1e-9)
    assert 1 / LARGEST_FACTOR * (1 - 1e-9) <= found <= LARGEST_FACTOR * (1 + 1e-9)


@pytest.mark.parametrize("wrong", [(-1, 1, 1), (1, -1, 1), (1, 1, -1), (math.nan, 1, 1), (1, math.inf, 1)])
def test_no_numbers_are_refused(wrong: tuple[float, float, float]) -> None:
    """Below nothing, or none."""
    with pytest.raises(InputError):
        log_factor(*wrong)


runs = st.lists(st.tuples(st.floats(1, 500), st.integers(0, 50), st.floats(0, 2)), min_size=1, max_size=8)


@given(runs, st.data())
def test_splitting_a_run_changes_nothing(told: list[tuple[float, float, float]], data: st.DataObject) -> None:
    """A run logged in two parts is the same run."""
    place = data.draw(st.integers(0, len(told) - 1))
    share = data.draw(st.floats(0.05, 0.95))
    holes, slips, usual = told[place]
    parts = [(holes * one, slips * one, usual * one) for one in (share, 1 - share)]
    assert pytest.approx(seen(*told), rel=1e-6, abs=1e-6) == seen(*told[:place], *parts, *told[place + 1 :])


@given(st.permutations([(40.0, 1.0, 0.5), (20.0, 4.0, 0.7), (90.0, 0.0, 1.0), (10.0, 2.0, 0.2)]))
def test_order_within_the_window_never_matters(told: list[tuple[float, float, float]]) -> None:
    """Its holes count alike."""
    assert pytest.approx([160, 7, 2.4]) == seen(*told)


def test_old_news_is_left_out() -> None:
    """Only the last holes in which WINDOW slips are usual count; half a run counts half."""
    assert pytest.approx([75, 2, WINDOW]) == seen((100, 9, 6), (50, 4, 2), (50, 0, 2))


def test_runs_that_told_nothing_take_no_room() -> None:
    """Nor do they count."""
    assert seen((50, 4, 1), (0, 0, 0), (50, 1, 1)) == seen((50, 4, 1), (50, 1, 1))


def test_lives_are_kept_apart() -> None:
    """What one tap slipped is no news of the next."""
    told = np.array([[50, 50, 50], [9, 1, 0], [1, 1, 1]], float)
    found = recent(told, np.array([0, 1, 2, 3]), np.array([0, 1, 1, 1]))
    assert [[0, 0, 50, 100], [0, 0, 1, 1], [0, 0, 1, 2]] == found.tolist()


def test_a_person_is_told_of_what_is_visible() -> None:
    """A quarter more, and not less."""
    assert [False, True] == [SlipEvidence(100, 4, 3, factor).raises for factor in (1.2, 1.3)]
