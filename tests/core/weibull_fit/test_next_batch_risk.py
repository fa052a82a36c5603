from __future__ import annotations

import doctest
import math
from types import ModuleType

import pytest

from shopfloor.core import phrases
from shopfloor.core.decision import replacement
from shopfloor.core.phrases import one_in
from shopfloor.core.survival import poisson_rate
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from tests.published.life import case, lives_of


def test_the_published_risk_of_an_old_part() -> None:
    """Meeker & Escobar's shock absorber at 20,000 km for the next 2,000 km, from its data."""
    known = next(k for k in case("replacement", "conditional-break-risk")["expected"] if k["age"] == 20000)
    fit = fit_weibull(lives_of(case("life", "shock-absorber")["data"]), interval="profile")
    chances = fit.risks([20000], [2000])
    assert chances.value is not None
    assert [known["prob_break"]] == pytest.approx(chances.value, rel=1e-4)
    assert chances.lower[0] < known["prob_break"] < chances.upper[0]


def test_without_failures_there_is_an_upper_bound() -> None:
    """No value, but never more than so much."""
    chances = fit_weibull(Lives.of([400] * 9, [math.inf] * 9)).risks(0, [50, 100])
    assert chances.value is None
    assert [0, 0] == chances.lower.tolist()
    assert 0 < chances.upper[0] < chances.upper[1] < 0.3


def test_taps_and_batches_broadcast() -> None:
    """Many taps, one batch."""
    fit = fit_weibull(lives_of(case("life", "abernethy-c5")["data"]))
    assert isinstance(fit, WeibullFit)
    assert (3,) == fit.risks([0, 100, 4000], 50).upper.shape


@pytest.mark.parametrize(
    ("chance", "n"),
    [
        (0.5, 2),
        (0.33, 3),
        (0.083, 12),
        (0.052, 19),
        (0.0385, 25),
        (0.0123, 80),
        (0.00333, 300),
        (1e-6, 10**6),
        (0.0, None),
        (0.51, None),
        (1.0, None),
        (math.nan, None),
    ],
)
def test_one_in(chance: float, n: int | None) -> None:
    """As a person would say it; common practice, no source."""
    assert n == one_in(chance)


@pytest.mark.parametrize("module", [phrases, poisson_rate, replacement])
def test_worked_values_in_docstrings(module: ModuleType) -> None:
    """What the docstrings show is what comes out."""
    done = doctest.testmod(module)
    assert (0, True) == (done.failed, done.attempted > 0)
