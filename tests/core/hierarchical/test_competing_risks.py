"""Two modes that compete within intervals, over many conditions: held against plain integrals."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.integrate import quad

from shopfloor.core.decision.replacement_age import credible_interval
from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior, posteriors
from shopfloor.core.hierarchical.model.competing_intervals import (
    COARSE,
    FINE,
    ModeDistributions,
    QuadratureSizes,
    interval_failures,
)
from shopfloor.core.hierarchical.model.competing_risks import CompetingLikelihood
from shopfloor.core.hierarchical.model.conditions import Histories, History, Use
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.prediction.draws import draw, weights
from shopfloor.core.survival.censored_data import Lives
from tests.core.hierarchical.shops import CONDITIONS, TOLD, plain, points

C = len(CONDITIONS)
MODES = ["break", "wear"]


def laws(seed: int, mode: str) -> ModeDistributions:
    """Distributions for three hyperparameter settings."""
    b, m, frailty = points(seed)
    return ModeDistributions(mode, b, m, np.roll(frailty, seed), np.array([0.5, 0.3, 0.2]))


class Slow:
    """One life under given distributions: the cumulative hazard of its tap, and the hazard, at an age."""

    def __init__(self, life: History, b: np.ndarray, m: np.ndarray, frailty: float) -> None:
        self.life, self.m, self.frailty = life, m, frailty
        self.shape = np.exp(b[life.uses[-1].condition])

    def used(self, age: float) -> float:
        """Characteristic lives."""
        return sum(made * float(np.exp(-self.m[condition])) for condition, made in self.life.holes_until(age))

    def spent(self, age: float) -> float:
        """-log of the share of taps that survive."""
        hazard = self.used(age) ** self.shape
        return float(np.log1p(self.frailty * hazard) / self.frailty if self.frailty else hazard)

    def rate(self, age: float) -> float:
        """Hazard of those that are left."""
        now = next(use for use, _, until in self.life.uses_between(self.life.entry, 1e9) if age <= until).condition
        used = self.used(age)
        rate = self.shape * used ** (self.shape - 1) * np.exp(-self.m[now])
        return float(rate / (1 + self.frailty * used**self.shape))

    def left(self, age: float) -> float:
        """Share that is left of those good at the start of the interval."""
        return float(np.exp(self.spent(self.life.lower) - self.spent(age)))


def integral(life: History, chance: Callable[[float], float]) -> float:
    """Over the interval, in pieces where the condition changes."""
    cuts = [life.lower, *(until for _, _, until in life.uses_between(life.lower, life.upper))]
    return sum(quad(chance, a, b, epsabs=0, epsrel=1e-10)[0] for a, b in itertools.pairwise(cuts))


def slow(
    told: Sequence[History], mode: str, b: np.ndarray, m: np.ndarray, frailty: float, rival: ModeDistributions
) -> float:
    """The log-likelihood of one mode, the other averaged over its hyperparameters."""
    total = 0.0
    for life in told:
        own = Slow(life, b, m, frailty)
        others = [Slow(life, *one) for one in zip(rival.log_shape, rival.log_scale, rival.frailty, strict=True)]

        def survives(age: float, others: list[Slow] = others) -> float:
            return float(rival.weight @ [one.left(age) for one in others])

        def fails(age: float, others: list[Slow] = others) -> float:
            return float(rival.weight @ [one.left(age) * one.rate(age) for one in others])

        total += own.spent(life.entry) - own.spent(life.lower)
        if life.mode == mode and life.lower == life.upper:
            total += np.log(own.rate(life.lower))
        elif life.mode == mode:
            total += np.log(integral(life, lambda age: own.rate(age) * own.left(age) * survives(age)))  # noqa: B023
        elif life.mode and life.lower < life.upper:
            total += np.log(integral(life, lambda age: fails(age) * own.left(age)) / integral(life, fails))  # noqa: B023
    return float(total)


def against(told: Sequence[History], own: ModeDistributions, rival: ModeDistributions) -> CompetingLikelihood:
    """The likelihood near these distributions."""
    histories = Histories.of(told)
    return CompetingLikelihood(histories, interval_failures(histories, [own, rival]), own.mode, C).given([rival])


@pytest.mark.parametrize("mode", MODES)
def test_value_and_slope_are_those_of_plain_integrals(mode: str) -> None:
    """Over plain lives and those over several conditions, with and without frailty: 1e-7 of the value."""
    own, rival = laws(4, mode), laws(8, MODES[mode == "break"])
    terms = against(TOLD, own, rival).log_likelihood(own.log_shape, own.log_scale, own.frailty)
    for k in range(3):
        here = own.log_shape[k], own.log_scale[k]
        wanted = slow(TOLD, mode, *here, float(own.frailty[k]), rival)
        assert wanted == pytest.approx(float(terms.value[k]), rel=1e-7)
        for which, slope in enumerate((terms.by_b, terms.by_m)):
            for c in range(C):
                ends = []
                for sign in (1, -1):
                    moved = [one.copy() for one in here]
                    moved[which][c] += sign * 1e-5
                    ends.append(slow(TOLD, mode, moved[0], moved[1], float(own.frailty[k]), rival))
                assert (ends[0] - ends[1]) / 2e-5 == pytest.approx(float(slope[k, c]), rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("mode", MODES)
def test_curvature_of_plain_lives_is_the_change_of_the_slope(mode: str) -> None:
    """Lives known so well that nothing is cut off, near their distributions: by differences."""
    told = [
        *[History((Use(0, 300),), 250 + 9 * i, 300 + 9 * i, entry=10 * i, mode=MODES[i % 2]) for i in range(8)],
        *[History((Use(i % 2, 300),), 150 + 15 * i, 150 + 15 * i, mode=mode) for i in range(20)],
        History((Use(1, 400),), 200, 400, mode="wear"),
        History((Use(1, 100),), 0, 100, mode="break"),
    ]
    own = laws(4, mode)
    likelihood = against(told, own, laws(8, MODES[mode == "break"]))
    b, m = np.full((3, C), 1.0), np.full((3, C), np.log(330.0))
    here = likelihood.log_likelihood(b, m, own.frailty)
    for bent, first, second in ((here.bb, "by_b", (1, 0)), (here.bm, "by_b", (0, 1)), (here.mm, "by_m", (0, 1))):
        ends = [
            getattr(likelihood.log_likelihood(b + sign * second[0], m + sign * second[1], own.frailty), first)
            for sign in (1e-5, -1e-5)
        ]
        assert (ends[1] - ends[0]) / 2e-5 == pytest.approx(bent, rel=1e-5, abs=1e-5)


def test_fewer_points_do_where_only_an_average_is_asked_for() -> None:
    """Within 0.005 for each life, and its slope within 0.02."""
    own, rival = laws(4, "break"), laws(8, "wear")
    histories = Histories.of(TOLD)
    found = against(TOLD, own, rival)
    many, few = (
        one.log_likelihood(own.log_shape, own.log_scale, own.frailty)
        for one in (found, found.among(interval_failures(histories, [own, rival], COARSE)).given([rival]))
    )
    assert few.value == pytest.approx(many.value, abs=0.005 * len(TOLD))
    assert few.by_b == pytest.approx(many.by_b, abs=0.02)
    assert few.by_m == pytest.approx(many.by_m, abs=0.02)


def broken_among_survivors(
    age: float, low: float, scale: float, shape: float, its_scale: float, its_shape: float
) -> float:
    """Density of breaks at an age, times the survival of the competing mode since `low`."""
    lost = (low / its_scale) ** its_shape - (age / its_scale) ** its_shape
    return float(shape / scale * (age / scale) ** (shape - 1) * np.exp(lost - (age / scale) ** shape))


@pytest.mark.parametrize(("table", "near"), [(FINE, 1e-5), (COARSE, 1e-3)])
def test_an_interval_takes_the_points_that_it_needs(table: QuadratureSizes, near: float) -> None:
    """Taps that hardly fail within it, and such that practically all do: the log of each integral, by quadrature."""
    rng, hazards = np.random.default_rng(5), []
    for _ in range(120):
        width, told = float(rng.choice([25, 50, 100])), rng.uniform(np.log([40, 0.9]), np.log([500, 6]), (2, 2))
        low = width * np.floor(np.exp(told[:, 0].min()) * rng.uniform(0, 1.2) / width)
        high = low + width
        own, rival = (
            ModeDistributions(mode, one[None, 1:], one[None, :1], np.zeros(1), np.ones(1))
            for mode, one in zip(MODES, told, strict=True)
        )
        histories = Histories.of([History((Use(0, high),), low, high, mode="break")])
        found = CompetingLikelihood(histories, interval_failures(histories, [own, rival], table), "break", 1).given(
            [rival]
        )
        wanted, _ = quad(
            broken_among_survivors, low, high, (low, *np.exp(told).ravel()), epsrel=1e-10, limit=200,
            points=[low + width * part for part in (0.02, 0.1, 0.4)],
        )  # fmt: skip
        value = float(found.log_likelihood(own.log_shape, own.log_scale, np.zeros(1)).value[0])
        assert value == pytest.approx(np.log(wanted), abs=near)
        scale, shape = np.exp(told[0])
        hazards.append((high / scale) ** shape - (low / scale) ** shape)
    assert min(hazards) < 0.1
    assert max(hazards) > 20


def test_the_modes_do_not_factor() -> None:
    """Taken apart, the likelihood of breaks is another one."""
    own, rival = laws(4, "break"), laws(8, "wear")
    apart = (
        ModeLikelihood(Histories.of(TOLD), "break", C).log_likelihood(own.log_shape, own.log_scale, own.frailty).value
    )
    together = against(TOLD, own, rival).log_likelihood(own.log_shape, own.log_scale, own.frailty).value
    assert np.abs(apart - together).min() > 0.1


def test_one_condition_in_many_uses_is_one_use() -> None:
    """Splitting a use, or joining two of one condition, changes nothing."""
    own, rival = laws(5, "break"), laws(6, "wear")
    whole = [History((Use(0, 100), Use(2, 80)), 70, 180, mode="wear")]
    split = [History((Use(0, 60), Use(0, 40), Use(2, 30), Use(2, 50)), 70, 180, mode="wear")]
    values = [
        against(told, own, rival).log_likelihood(own.log_shape, own.log_scale, own.frailty).value
        for told in (whole, split)
    ]
    assert values[0] == pytest.approx(values[1], rel=1e-7)


def shop(seed: int, per_condition: int, step: float) -> Histories:
    """Lives with breaks and wear, looked at every `step` holes only; some changed in time."""
    rng = np.random.default_rng(seed)
    condition = np.repeat(np.arange(C), per_condition)
    n = len(condition)
    breaks, wears = 500.0 * rng.weibull(2.0, n), 450.0 * rng.weibull(4.0, n)
    last_look = np.floor(np.minimum(breaks, wears) / step) * step
    stop = step * rng.integers(1, int(1000 / step), n)
    failed = last_look < stop
    lower, upper = np.where(failed, last_look, stop), np.where(failed, last_look + step, np.inf)
    modes = np.where(~failed, "", np.where(breaks < wears, "break", "wear"))
    return Histories.plain(Lives.of(lower, upper, mode=modes.tolist()), condition)


def scale(found: Posterior, level: float = 0.99) -> tuple[float, float]:
    """Interval of the scale in the first condition."""
    told = draw(found, [CONDITIONS[0]])
    return credible_interval(np.exp(told.log_scale[:, -1]), weights([told]), level)


def test_many_lives_tell_the_truth() -> None:
    """With long intervals between looks breaks come out at their scale of 500; taken apart they seem to come sooner."""
    histories = shop(1, 400, 200.0)
    low, high = scale(posteriors(histories, CONDITIONS, MODES)["break"])
    assert low < 500 < high
    assert scale(posterior(histories, CONDITIONS, "break"))[1] < 500


def test_where_failures_are_exact_each_mode_is_as_if_alone() -> None:
    """To the last bit; and so with one mode."""
    lives = shop(2, 8, 50.0).lives
    upper = np.where(np.isfinite(lives.upper), lives.upper, np.inf)
    exact = Lives.of(np.where(lives.is_failure, upper, lives.lower), upper, mode=lives.mode.tolist())
    histories = Histories.plain(exact, np.repeat(np.arange(C), 8))
    found = posteriors(histories, CONDITIONS, MODES)
    for mode in MODES:
        assert np.array_equal(posterior(histories, CONDITIONS, mode).effects, found[mode].effects)
    alone = posteriors(shop(2, 8, 50.0), CONDITIONS, ["break"])["break"]
    assert np.array_equal(posterior(shop(2, 8, 50.0), CONDITIONS, "break").effects, alone.effects)


def test_starting_from_the_other_mode_changes_nothing() -> None:
    """Only the way there differs."""
    histories = shop(3, 10, 100.0)
    cold, warm = (posteriors(histories, CONDITIONS, modes) for modes in (MODES, MODES[::-1]))
    for mode in MODES:
        assert cold[mode].normal(CONDITIONS)[0] == pytest.approx(warm[mode].normal(CONDITIONS)[0], abs=5e-3)


def test_the_slope_of_own_lives_is_theirs_alone() -> None:
    """Lives over several conditions and other modes are no part of what corrects the Gaussian."""
    likelihood = against(TOLD, laws(1, "break"), laws(2, "wear"))
    log_shape, log_scale, frailty = points(1)
    slope = likelihood.plain_log_likelihood(log_shape, log_scale, frailty).by_m
    for place in range(C):
        b, m = log_shape[:, place], log_scale[:, place]
        ends = [likelihood.own.log_likelihood(place, b, m + step, frailty) for step in (1e-5, -1e-5)]
        assert (ends[0] - ends[1]) / 2e-5 == pytest.approx(slope[:, place], rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("histories", [plain(3), Histories.of(TOLD)], ids=["plain", "mixed"])
def test_absurd_laws_do_no_harm(histories: Histories) -> None:
    """Neither lives of no hole nor endless ones overflow on the way to the maximum."""
    b, _, frailty = points(4)
    for log_scale in (-150.0, 150.0):
        terms = ModeLikelihood(histories, "break", C).log_likelihood(b, np.full(b.shape, log_scale), frailty)
        assert all(np.isfinite(part).all() for part in (terms.value, terms.by_b, terms.by_m, terms.bb, terms.mm))
