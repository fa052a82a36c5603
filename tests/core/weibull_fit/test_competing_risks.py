"""Interval failures of two competing risks: the exact probability, and the joint maximum-likelihood estimates."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shopfloor.core.errors import NotConverged
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.weibull import Weibull
from shopfloor.core.weibull_fit.competing_risks import IntervalFailures, LogParameters
from shopfloor.core.weibull_fit.competing_risks_fit import joint_estimates, mode_likelihood
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_modes, fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from shopfloor.core.weibull_fit.maximise import NOT_SETTLED
from tests.core.random_lives import AGES, lives_of_two_modes
from tests.core.two_modes import BREAK, INF, WEAR, some_lives


def log_parameters(weibull: Weibull) -> LogParameters:
    """By its logs."""
    return LogParameters(math.log(weibull.shape), math.log(weibull.scale))


def inside(start: float, end: float, *distributions: Weibull) -> IntervalFailures:
    """One interval."""
    return IntervalFailures.of(np.array([start]), np.array([end]), [log_parameters(one) for one in distributions])


def plain_integral(start: float, end: float, failed: Weibull, *others: Weibull, pieces: int = 40) -> float:
    """The chance by scipy's quad, in pieces; hazards are counted from the start."""

    def density(age: float) -> float:
        gained = sum(float(one.cumulative_hazard(age) - one.cumulative_hazard(start)) for one in (failed, *others))
        return float(failed.hazard(age)) * math.exp(-gained)

    cuts = (
        np.linspace(start, end, pieces + 1)
        if start
        else np.append(0, np.geomspace(end * math.exp(-60 / failed.shape), end))
    )
    return math.fsum(quad(density, a, b, epsabs=0, epsrel=1e-12)[0] for a, b in itertools.pairwise(cuts))


ENDS = [(0, 50), (0, 900), (410, 460), (300, 350), (20, 1500), (500, 500.01), (1e9, 1e9 + 50)]
PAIRS = [
    (BREAK, WEAR), (WEAR, BREAK), (Weibull(0.7, 300), Weibull(6, 350)), (Weibull(20, 500), Weibull(0.5, 900)),
    (Weibull(1, 5000), Weibull(20, 450)), (Weibull(2, 1.1e9), Weibull(3, 0.9e9)),
]  # fmt: skip
# Differences of hazards beyond 1,000 have no digits left in a plain integral.
CASES = [
    case for case in itertools.product(ENDS, PAIRS) if all(one.cumulative_hazard(case[0][0]) < 1e3 for one in case[1])
]


@pytest.mark.parametrize(("ends", "distributions"), CASES)
def test_the_chance_is_the_plain_integral(ends: tuple[float, float], distributions: tuple[Weibull, Weibull]) -> None:
    """To 1e-9, for short and long intervals, from new or late, and for shapes from 0.5 to 20."""
    wanted = math.log(plain_integral(*ends, *distributions))
    assert wanted == pytest.approx(float(inside(*ends, *distributions).value[0]), rel=1e-9, abs=1e-9)


def test_three_modes_share_what_fails() -> None:
    """The chances of the modes add up to the chance of failing at all."""
    distributions = [BREAK, WEAR, Weibull(1.0, 900.0)]
    chances = [
        math.exp(float(inside(200, 500, distributions[i], *distributions[:i], *distributions[i + 1 :]).value[0]))
        for i in range(3)
    ]
    lost = sum(float(one.cumulative_hazard(500) - one.cumulative_hazard(200)) for one in distributions)
    assert 1 - math.exp(-lost) == pytest.approx(math.fsum(chances), rel=1e-10)


def test_without_another_mode_it_is_the_chance_of_one() -> None:
    """1 - exp(-gained hazard), the other absent or not yet begun."""
    alone = math.log(float(BREAK.chance_of_failing(200, 300)))
    assert alone == pytest.approx(float(inside(200, 500, BREAK).value[0]), rel=1e-10)
    assert alone == pytest.approx(float(inside(200, 500, BREAK, Weibull(4.0, 1e9)).value[0]), rel=1e-10)


def test_a_tiny_interval_is_its_width_times_the_hazard() -> None:
    """As an exact failure: the other mode has no time to come first."""
    width = 1e-6
    found = float(inside(400, 400 + width, BREAK, WEAR).value[0])
    assert math.log(float(BREAK.hazard(400)) * width) == pytest.approx(found, abs=1e-8)


def test_the_modes_do_not_factor() -> None:
    """With 300 holes between two looks, 3 of 10 breaks would have been worn before."""
    factored = math.log(float(BREAK.chance_of_failing(200, 300)))
    assert factored - 0.3 > float(inside(200, 500, BREAK, WEAR).value[0])


@pytest.mark.parametrize(("start", "end"), [(0, 60), (0, 900), (300, 350), (250, 700), (1e9, 1e9 + 1)])
def test_derivatives_agree_with_differences(start: float, end: float) -> None:
    """Gradient against differences of the value, Hessian against differences of the gradient, for three modes."""
    here = np.array([0.6, 6.1, 1.5, 5.8, 0.1, 7.0]) + np.tile([0.0, 15.0 if start > 1e6 else 0.0], 3)
    ends = np.array([start]), np.array([end])

    def at(theta: np.ndarray) -> IntervalFailures:
        return IntervalFailures.of(*ends, [LogParameters(*pair) for pair in theta.reshape(3, 2)])

    gradient, hessian = (part[0] for part in at(here).derivatives())
    for i, step in enumerate(1e-5 * np.eye(6)):
        above, below = at(here + step), at(here - step)
        assert float((above.value - below.value)[0]) / 2e-5 == pytest.approx(gradient[i], rel=1e-5, abs=1e-7)
        curvature = (above.derivatives()[0] - below.derivatives()[0])[0] / 2e-5
        assert curvature.tolist() == pytest.approx(hessian[i].tolist(), rel=1e-5, abs=1e-7)
    alone = at(here).derivatives([1])
    assert hessian[2:4, 2:4] == pytest.approx(alone[1][0])


def test_many_laws_and_intervals_at_once() -> None:
    """Axes of the distributions come before that of the intervals."""
    starts, ends = np.array([0.0, 200.0]), np.array([50.0, 350.0])
    shapes = np.array([[1.2], [2.0], [6.0]])
    many = IntervalFailures.of(
        starts, ends, [LogParameters(np.log(shapes), np.full((3, 1), 6.0)), log_parameters(WEAR)]
    )
    one = inside(200, 350, Weibull(6.0, math.exp(6.0)), WEAR)
    assert (3, 2, 4, 4) == many.derivatives()[1].shape
    assert float(one.value[0]) == pytest.approx(float(many.value[2, 1]), rel=1e-10)


LAWS = st.builds(Weibull, st.floats(0.3, 20), st.floats(1e-3, 1e12))


@given(AGES, AGES, st.booleans(), LAWS, LAWS)
def test_never_anything_but_a_chance(one: float, two: float, from_new: bool, failed: Weibull, other: Weibull) -> None:
    """For any ages and distributions: a finite log of at most 0, and finite derivatives."""
    start, end = (0.0, max(one, two)) if from_new or one == two else sorted((one, two))
    found = inside(start, end, failed, other)
    assert float(found.value[0]) <= 0
    assert np.isfinite(found.value).all()
    assert all(np.isfinite(part).all() for part in found.derivatives())


# ---------------------------------------------------------------------------------------------------------- both modes


def brute(lives: Lives, distributions: dict[str, LogParameters]) -> float:
    """The log-likelihood of two modes together, life by life."""
    weibulls = {mode: Weibull(math.exp(one.log_shape), math.exp(one.log_scale)) for mode, one in distributions.items()}

    def hazard(age: float) -> float:
        return sum(float(one.cumulative_hazard(age)) for one in weibulls.values())

    total = 0.0
    for low, up, entry, mode in zip(lives.lower, lives.upper, lives.entry, lives.mode, strict=True):
        total += hazard(entry) - hazard(low)
        others = [one for name, one in weibulls.items() if name != mode]
        if mode and low == up:
            total += math.log(float(weibulls[mode].hazard(low)))
        elif mode:
            total += math.log(plain_integral(low, up, weibulls[mode], *others, pieces=1))
    return total


@pytest.mark.parametrize("step", [20.0, 200.0])
def test_the_laws_are_the_most_likely_together(step: float) -> None:
    """The slope of the plain sum of integrals vanishes there, and any step away loses."""
    lives = some_lives(1, 25, step)
    distributions = joint_estimates(lives)
    here = brute(lives, distributions)
    for mode, one in distributions.items():
        for h in (LogParameters(1e-3, 0.0), LogParameters(0.0, 1e-3)):
            moved = [
                distributions | {mode: LogParameters(one[0] + sign * h[0], one[1] + sign * h[1])} for sign in (1, -1)
            ]
            up, down = (brute(lives, at) for at in moved)
            assert max(up, down) < here
            # From the slopes on both sides: how far the maximum is from here, in steps.
            assert 0 == pytest.approx((up - down) / (2 * here - up - down) / 2, abs=2e-3)


@pytest.mark.parametrize("seed", [1240, 2153, 2984])
def test_where_turns_do_not_settle_the_laws_are_found_all_the_same(seed: int) -> None:
    """Sets on which the modes in turn go to and fro, or come nearer by a twentieth a round: any step away loses."""
    lives = lives_of_two_modes(seed)
    distributions = joint_estimates(lives)
    assert {"break", "wear"} == set(distributions)
    here = brute(lives, distributions)
    for mode, one in distributions.items():
        for b, m in ((3e-3, 0.0), (-3e-3, 0.0), (0.0, 3e-3), (0.0, -3e-3)):
            assert brute(lives, distributions | {mode: LogParameters(one[0] + b, one[1] + m)}) < here
    for mode, found in fit_modes(lives, interval="profile").items():
        if isinstance(found, WeibullFit):
            assert math.log(found.weibull.scale) == pytest.approx(float(distributions[mode].log_scale), abs=1e-4)
        else:
            assert (1240, NOT_SETTLED.reason) == (seed, found.reason)


def test_where_they_are_not_to_be_found_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """As a result with its reason, what would be enough, and the bounds that hold; no intermediate estimate."""
    monkeypatch.setattr("shopfloor.core.weibull_fit.competing_risks_fit.LEVEL_ENOUGH", -1.0)
    lives = lives_of_two_modes(1240)
    with pytest.raises(NotConverged, match="the modes of failure together"):
        joint_estimates(lives)
    for mode, found in fit_modes(lives).items():
        assert isinstance(found, NotEnoughData)
        assert (NOT_SETTLED.reason, NOT_SETTLED.enough) == (found.reason, found.enough)
        assert lives.of_mode(mode).evidence == found.evidence
        assert 0 < found.life_interval(0.1)[0] < math.inf


def test_taking_modes_apart_shortens_life() -> None:
    """As if each tap had been lost to the other mode at the last look: the breaks seem to come more often."""
    lives = some_lives(1, step=200.0)
    together = fit_modes(lives, interval="profile")["break"]
    apart = fit_weibull(lives.of_mode("break"), interval="profile")
    assert isinstance(together, WeibullFit)
    assert isinstance(apart, WeibullFit)
    assert 1.1 * apart.weibull.scale < together.weibull.scale
    assert together.scale_interval[0] < together.weibull.scale < together.scale_interval[1]


def test_many_lives_tell_the_truth() -> None:
    """With long intervals between inspections both distributions are recovered; fitted separately, breaks are not."""
    lives = some_lives(2, 3000, 250.0)
    fits = fit_modes(lives, level=0.999)
    for mode, truth in (("break", BREAK), ("wear", WEAR)):
        low, high = fits[mode].scale_interval
        assert low < truth.scale < high
        low, high = fits[mode].shape_interval
        assert low < truth.shape < high
    assert fit_weibull(lives.of_mode("break"), level=0.999).scale_interval[1] < BREAK.scale


def test_where_failures_are_exact_each_mode_is_as_if_alone() -> None:
    """The same fit to the last bit; and so where there is only one mode."""
    lives = some_lives(3)
    exact = Lives(lives.upper, lives.upper, lives.entry, lives.mode, lives.count).rows(np.flatnonzero(lives.is_failure))
    one = lives.rows(np.flatnonzero(lives.mode != "wear"))
    for seen, mode in ((exact, "break"), (exact, "wear"), (one, "break")):
        found, alone = fit_modes(seen)[mode], fit_weibull(seen.of_mode(mode))
        assert isinstance(found, WeibullFit)
        assert isinstance(alone, WeibullFit)
        assert (alone.weibull, alone.shape_interval) == (found.weibull, found.shape_interval)


def test_value_and_slope_are_exact_at_the_laws() -> None:
    """One mode's likelihood given the other's distribution: by how much the plain sum of integrals changes."""
    lives, distributions = some_lives(4, 15), {"break": log_parameters(BREAK), "wear": log_parameters(WEAR)}
    likelihood = mode_likelihood(lives, "break", distributions)
    here = likelihood.parameters(BREAK)
    without = brute(lives.of_mode("wear"), distributions | {"break": LogParameters(0.0, 688.0)})
    others = lives.rows(np.flatnonzero(lives.mode == "wear"))
    assert len(others) > 0
    h = 1e-4
    for i, step in enumerate(h * np.eye(2)):
        around = [likelihood.weibull(*(here + sign * step)) for sign in (1, -1)]
        up, down = (brute(lives, distributions | {"break": log_parameters(one)}) for one in around)
        assert (up - down) / (2 * h) == pytest.approx(likelihood.derivatives(*here)[0][i], rel=1e-5, abs=1e-5)
    assert brute(lives, distributions) - without == pytest.approx(likelihood.value(*here), rel=1e-8)


@st.composite
def any_lives_of_two_modes(draw: st.DrawFn) -> Lives:
    """A few lives of any kind, half of them failed by one mode or the other."""
    rows = []
    for _ in range(draw(st.integers(2, 8))):
        first, second, third = sorted(draw(AGES) for _ in range(3))
        entry = first if draw(st.booleans()) and first < second else 0.0
        mode = draw(st.sampled_from(["", "break", "wear"]))
        upper = INF if not mode else third if draw(st.booleans()) else second
        rows.append((entry if draw(st.booleans()) and upper > second else second, upper, entry, mode))
    lower, upper, entry, mode = np.array(rows, dtype=object).T
    return Lives.of(lower, upper, entry, mode.tolist())


@given(any_lives_of_two_modes(), st.sampled_from(["profile", "calibrated"]))
def test_any_lives_give_a_law_or_a_reason(lives: Lives, interval: str) -> None:
    """Never a crash, a warning or a number that is none."""
    for fit in fit_modes(lives, interval=interval, modes=["break", "wear"]).values():
        assert not any(math.isnan(end) for end in (*fit.shape_interval, *fit.scale_interval))
        assert fit.risk(100, 50).upper >= fit.risk(100, 50).lower
