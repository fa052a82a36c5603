from __future__ import annotations

import numpy as np
import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.grouped_fit import fit_many
from shopfloor.core.weibull_fit.grouped_likelihood import GroupedLikelihood
from shopfloor.core.weibull_fit.likelihood import Likelihood
from tests.core.random_lives import mixed_lives

INF = np.inf


def joined(parts: list[Lives]) -> tuple[Lives, np.ndarray]:
    """The lives of several groups in one table, and the group of each."""
    columns = ("lower", "upper", "entry", "mode", "count")
    lives = Lives(*(np.concatenate([getattr(part, column) for part in parts]) for column in columns))
    return lives, np.repeat(np.arange(len(parts)), [len(part) for part in parts])


def exact(seed: int, n: int) -> Lives:
    """Lives followed from new, failures at known holes."""
    rng = np.random.default_rng(seed)
    life, stop = 400 * rng.weibull(2.5, n), rng.uniform(100, 700, n)
    return Lives.of(np.minimum(life, stop), np.where(life <= stop, life, INF))


@pytest.mark.parametrize("interval", ["calibrated", "profile"])
@pytest.mark.parametrize("make", [exact, mixed_lives])
def test_each_group_as_if_alone(make: object, interval: str) -> None:
    """Estimates, log-likelihood and every interval are those of `fit_weibull`."""
    parts = [make(seed, 8 + seed) for seed in range(6)]  # type: ignore[operator]
    fits = fit_many(*joined(parts), 0.8, interval)
    for place, which in enumerate(fits.groups):
        alone = fit_weibull(parts[which], 0.8, interval)
        assert isinstance(alone, WeibullFit)
        risk = alone.risk(100, 50)
        expected = [alone.weibull.shape, alone.weibull.scale, alone.most_likely.shape, alone.most_likely.scale]
        expected += [alone.log_likelihood, alone.life(0.1), *alone.shape_interval, *alone.scale_interval]
        expected += [*alone.life_interval(0.1), risk.value or 0, risk.lower, risk.upper]
        ends = [*fits.shape_interval, *fits.scale_interval, *fits.life_interval(0.1)]
        ends += [fits.risk(100, 50), *fits.risk_interval(100, 50)]
        found = [*fits.estimates[:, place], fits.life(0.1)[place], *(end[place] for end in ends)]
        assert expected == pytest.approx(found, rel=1e-7)


def test_groups_without_a_fit_say_why() -> None:
    """Groups without a maximum, and labels without lives, are left out with their reason."""
    lives = Lives.of([100, 200, 50, 80, 120, 300, 300], [100, INF, 50, 80, 120, INF, INF])
    fits = fit_many(lives, [0, 0, 1, 1, 1, 3, 3])
    assert [1] == fits.groups.tolist()
    assert {0, 2, 3} == set(fits.no_maximum)
    assert ["one failure" in fits.no_maximum[0].reason, "no failure" in fits.no_maximum[2].reason] == [True, True]
    assert 1 == len(fits.shape_interval[0]) == len(fits.life_interval(0.5)[1])


def test_nothing_to_fit() -> None:
    """No lives, or none that failed: empty answers."""
    for lives, group in ((Lives.of([], []), []), (Lives.of([5, 6], [INF, INF]), [0, 1])):
        fits = fit_many(lives, np.array(group, dtype=int))
        assert (0, 0, 0) == (len(fits.shape), len(fits.shape_interval[0]), len(fits.life_interval(0.1)[1]))


@pytest.mark.parametrize("group", [[0], [0, -1], [0.5, 1.0], [[0, 1]]])
def test_groups_are_checked(group: list[float]) -> None:
    """The error names the group."""
    with pytest.raises(InputError, match=r"^group"):
        fit_many(Lives.of([1, 2], [1, 2]), group)


@pytest.mark.parametrize("make", [exact, mixed_lives])
def test_grouped_curves_are_those_of_each_group(make: object) -> None:
    """Values, derivatives and Newton steps of the rows are those of single likelihoods."""
    parts = [make(seed, 5 + seed) for seed in range(4)]  # type: ignore[operator]
    together = GroupedLikelihood(*joined(parts), 4)
    x, c = np.array([0.3, 0.7, 1.1, 1.5]), np.array([0.1, -0.4, 0.6, 0.2])
    values = together.at(np.exp(x)[:, None]).value(c)
    gradients, hessians = together.derivatives(x, c)
    steps = np.stack(together.newton(x), axis=1)
    for i, part in enumerate(parts):
        alone = Likelihood(part)
        gradient, hessian = alone.derivatives(x[i], c[i])
        assert alone.value(x[i], c[i]) == pytest.approx(values[i], rel=1e-12)
        assert gradient == pytest.approx(gradients[i], rel=1e-9)
        assert hessian == pytest.approx(hessians[i], rel=1e-9)
        assert list(alone.newton(x[i])) == pytest.approx(steps[i], rel=1e-7)
