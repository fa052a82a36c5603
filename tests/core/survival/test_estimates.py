from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.weibull import Weibull
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import CAUTIOUS_SHAPES, NotEnoughData, weibayes_scale_lower
from tests.core.random_lives import mixed_lives
from tests.published.life import case, lives_of

INF = math.inf


def fit_of(name: str, level: float = 0.90) -> WeibullFit:
    """The fit of a published case."""
    fit = fit_weibull(lives_of(case("life", name)["data"]), level, "profile")
    assert isinstance(fit, WeibullFit)
    return fit


def slow_end(fit: WeibullFit, log_survival: float, age: float, sign: int) -> float:
    """An end of the interval of log(-log S(age)): profile by bounded search, end by bisection."""
    likelihood = fit.region.likelihood
    log_age = math.log(age / likelihood.unit)

    def profile(value: float) -> float:
        def cost(log_shape: float) -> float:
            return -likelihood.value(log_shape, value - math.exp(log_shape) * log_age)

        centre = math.log(fit.weibull.shape)
        return -float(
            minimize_scalar(cost, bounds=(centre - 2, centre + 2), method="bounded", options={"xatol": 1e-9}).fun
        )

    return float(
        brentq(lambda value: profile(value) - fit.region.target, log_survival, log_survival + sign * 8, xtol=1e-9)
    )


@pytest.mark.parametrize("name", ["abernethy-c5", "mixed-log-1", "part-cracking"])
@pytest.mark.parametrize("part", [0.2, 0.7, 1.3])
def test_band_agrees_with_plain_profiling(name: str, part: float) -> None:
    """Second route to the band: for each survival the likelihood is maximised, life by life."""
    fit = fit_of(name)
    age = part * fit.weibull.scale
    band = fit.survival_band(age)
    centre = fit.weibull.shape * math.log(part)
    slow = [math.exp(-math.exp(slow_end(fit, centre, age, sign))) for sign in (1, -1)]
    assert slow == pytest.approx([band.lower[0], band.upper[0]], rel=1e-6)


def test_band_and_life_interval_are_the_same_region() -> None:
    """At the lower end of the life at 10 %, the band's lower edge is 90 %."""
    fit = fit_of("shock-absorber")
    low, high = fit.life_interval(0.1)
    band = fit.survival_band([low, high])
    assert (0.9, 0.9) == pytest.approx((band.lower[0], band.upper[1]), rel=1e-6)


def test_risk_of_a_fresh_tap_is_one_less_survival() -> None:
    """The two questions have one answer, interval included."""
    fit = fit_of("shock-absorber")
    risk, band = fit.risk(0, 9000), fit.survival_band(9000)
    assert (1 - band.upper[0], 1 - band.lower[0]) == pytest.approx((risk.lower, risk.upper), rel=1e-9)


def test_many_risks_are_each_risk() -> None:
    """Asked together or one by one; no holes to come, no risk."""
    fit = fit_of("nist-8.4.1.2")
    together = fit.risks([0, 100, 400], [[50], [0]])
    assert (2, 3) == together.lower.shape == together.upper.shape
    assert [0, 0, 0] == together.upper[1].tolist()
    for i, age in enumerate([0, 100, 400]):
        alone = fit.risk(age, 50)
        assert (alone.lower, alone.upper) == pytest.approx((together.lower[0, i], together.upper[0, i]))


def test_a_fresh_tap_survives() -> None:
    """At age 0 the band is a point."""
    band = fit_of("nist-8.4.1.2").survival_band(0)
    assert (1, 1) == (band.lower[0], band.upper[0])


@settings(max_examples=40)
@given(st.integers(0, 10**6), st.floats(0.5, 0.95))
def test_a_higher_level_is_a_wider_interval(seed: int, level: float) -> None:
    """Of every figure."""
    fits = [fit_weibull(mixed_lives(seed, 15), at) for at in (level, level + 0.04)]
    if all(fit.sure for fit in fits):
        for ends in zip(*([*f.shape_interval, *f.life_interval(0.1), f.risk(99, 50).upper] for f in fits), strict=True):
            assert ends[0] != ends[1] or ends[0] in (0, INF)
        assert fits[1].shape_interval[0] <= fits[0].shape_interval[0] <= fits[0].shape_interval[1]
        assert fits[0].life_interval(0.1)[1] <= fits[1].life_interval(0.1)[1]


def test_profile_intervals_cover_the_truth() -> None:
    """At level 90 %, about nine samples of ten hold the true shape and life at 10 % (20 lives each)."""
    truth, hits = Weibull(2.5, 400), np.zeros(2)
    samples = 200
    for seed in range(samples):
        fit = fit_weibull(mixed_lives(seed, 20, truth.shape, truth.scale), interval="profile")
        shape, life = fit.shape_interval, fit.life_interval(0.1)
        hits += [shape[0] <= truth.shape <= shape[1], life[0] <= float(truth.quantile(0.1)) <= life[1]]
    # Three standard errors of a count of 200 at 90 %, and two points for so few lives.
    assert np.all(np.abs(hits / samples - 0.9) < 3 * math.sqrt(0.09 / samples) + 0.02)


def test_open_ends_are_open() -> None:
    """Where lives seen only once do not bound the shape below, lives have no bound but 0 and infinity either."""
    fit = fit_weibull(Lives.of([0, 0, 0, 100, 200], [100, 200, 300, INF, INF]), interval="profile")
    assert isinstance(fit, WeibullFit)
    assert [0, 0] == [fit.shape_interval[0], fit.life_interval(0.1)[0]]
    assert [0, INF] == list(fit.scale_interval)
    assert math.isfinite(fit.shape_interval[1])


WEIBAYES = case("replacement", "weibayes")["expected"]


@pytest.mark.parametrize("known", WEIBAYES)
def test_weibayes_bound(known: dict[str, float]) -> None:
    """Lower bound of the scale for a known shape: Abernethy, chapter 6; Nelson 1985."""
    times, failures = np.array(known["times"]), int(known["failures"])
    lives = Lives.of(times, [*times[:failures], *[INF] * (len(times) - failures)])
    bound = weibayes_scale_lower(lives, known["beta"], known["confidence"])
    assert known["eta_lower"] == pytest.approx(bound, rel=1e-6)


SUCCESS_RUN = case("replacement", "success-run")["expected"]


@pytest.mark.parametrize("known", [known for known in SUCCESS_RUN if "reliability_lower" in known])
def test_success_run(known: dict[str, float]) -> None:
    """n taps that all made t holes: at t, survival is at least (1 - C)^(1/n), whatever the shape."""
    n = int(known["n"])
    band = fit_weibull(Lives.of([300] * n, [INF] * n), known["confidence"]).survival_band(300)
    assert known["reliability_lower"] == pytest.approx(band.lower[0], rel=1e-6)


@pytest.mark.parametrize("known", [known for known in SUCCESS_RUN if "reliability" in known])
def test_success_run_numbers(known: dict[str, float]) -> None:
    """So many taps without failure show the wanted reliability, one fewer does not."""
    lower = []
    for n in (int(known["n"]), int(known["n"]) - 1):
        lives = Lives.of([known.get("lifetimes", 1) * 100] * n, [INF] * n)
        scale = weibayes_scale_lower(lives, known.get("beta", 1), known["confidence"])
        lower.append(float(Weibull(known.get("beta", 1), scale).survival(100)))
    assert lower[0] >= known["reliability"] > lower[1]


def test_bounds_hold_for_every_cautious_shape() -> None:
    """Life at 10 %, survival and risk are no better than under any shape from 1 to 4."""
    fit = fit_weibull(Lives.of([200, 350, 500, 120], [INF] * 4, entry=[0, 0, 150, 0]))
    assert isinstance(fit, NotEnoughData)
    for shape in CAUTIOUS_SHAPES:
        weibull = Weibull(shape, weibayes_scale_lower(fit_lives(fit), shape, fit.level))
        assert fit.life_interval(0.1)[0] <= float(weibull.quantile(0.1)) * (1 + 1e-12)
        assert fit.survival_band(250).lower[0] <= float(weibull.survival(250)) + 1e-12
        assert fit.risk(200, 50).upper >= float(weibull.chance_of_failing(200, 50)) - 1e-12


def fit_lives(fit: NotEnoughData) -> Lives:
    """The lives of the test above, as the bound for one shape wants them."""
    assert 4 == fit.evidence.taps
    return Lives.of([200, 350, 500, 120], [INF] * 4, entry=[0, 0, 150, 0])


def test_nothing_known_bounds_nothing() -> None:
    """Without any lives the bounds are 0 and 1, and still numbers."""
    fit = fit_weibull(Lives.of([], []))
    assert (0.0, INF) == fit.life_interval(0.1) == fit.scale_interval
    assert (None, 0.0, 1.0) == (fit.risk(0, 50).value, fit.risk(0, 50).lower, fit.risk(0, 50).upper)
    assert 0 == fit.risk(10, 0).upper
    assert [1, 0] == fit.survival_band([0, 10]).lower.tolist()


@pytest.mark.parametrize(("age", "holes", "field"), [(-1, 5, "age"), (5, -1, "next"), (math.nan, 5, "age")])
def test_counts_are_checked(age: float, holes: float, field: str) -> None:
    """By a fit and by a bound alike."""
    for fit in (fit_of("abernethy-c5"), fit_weibull(Lives.of([5], [INF]))):
        with pytest.raises(InputError, match=field):
            fit.risk(age, holes)
