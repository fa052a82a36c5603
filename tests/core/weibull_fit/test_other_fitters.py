"""Our maximum-likelihood estimate against those of lifelines, reliability, scipy and surpyval: as likely, or more."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.weibull_fit.fit import WeibullFit, fit_weibull
from shopfloor.core.weibull_fit.lower_bounds import NotEnoughData
from tests.core.random_lives import Life, lives_from, mixed_lives
from tests.core.weibull_fit.other_fitters import Fitter, lifelines_fit, reliability_fit, scipy_fit, surpyval_fit
from tests.published.life import case, lives_of

INF = math.inf
KINDS = ("exact", "right-censored", "intervals", "part-used", "mixed")
ABLE: list[tuple[Fitter, tuple[str, ...]]] = [
    (surpyval_fit, KINDS),
    (lifelines_fit, KINDS),
    (scipy_fit, ("exact", "right-censored", "intervals")),
    (reliability_fit, ("exact", "right-censored")),
]
PAIRS = [pytest.param(fitter, kind, id=f"{fitter.__name__}-{kind}") for fitter, kinds in ABLE for kind in kinds]


def some_lives(kind: str, seed: int) -> Lives:
    """60 lives of a kind, with about a third of survivors but where all are exact."""
    mixed = mixed_lives(seed, 60)
    new = np.zeros(len(mixed))
    if kind == "mixed":
        return mixed
    if kind == "intervals":
        return Lives.of(mixed.lower, mixed.upper, new)
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(60) < 0.4, rng.uniform(0, 200, 60), 0) if kind == "part-used" else np.zeros(60)
    life = 400 * ((entry / 400) ** 2.5 + rng.standard_exponential(60)) ** (1 / 2.5)
    stop = np.full(60, INF) if kind == "exact" else entry + rng.uniform(100, 700, 60)
    return Lives.of(np.minimum(life, stop), np.where(life <= stop, life, INF), entry)


def most_likely(lives: Lives) -> float:
    """Our log-likelihood."""
    fit = fit_weibull(lives, interval="profile")
    assert isinstance(fit, WeibullFit)
    return fit.log_likelihood


@pytest.mark.parametrize(("fitter", "kind"), PAIRS)
def test_no_other_fit_is_more_likely(fitter: Fitter, kind: str) -> None:
    """Ours is never below by more than rounding; where the others end later than 1e-8, they stopped short."""
    for seed in range(2):
        lives = some_lives(kind, seed)
        assert most_likely(lives) >= fitter(lives) - 1e-9
        assert most_likely(lives) == pytest.approx(fitter(lives), rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_surpyval_finds_the_same_maximum(kind: str) -> None:
    """Any mix of exact, interval, right-censored and part-used lives: log-likelihoods within 1e-8."""
    for seed in range(2):
        lives = some_lives(kind, seed)
        assert surpyval_fit(lives) == pytest.approx(most_likely(lives), abs=1e-8)


@pytest.mark.parametrize("name", ["part-cracking", "turbine-wheel-current-status", "mixed-log-1", "macs-aids"])
def test_surpyval_on_published_lives(name: str) -> None:
    """Inspections, each tap inspected once, a mixed log, late entries: the printed log-likelihoods by either."""
    published = case("life", name)
    lives = lives_of(published["data"])
    assert published["expected"]["loglik"] == pytest.approx(surpyval_fit(lives), rel=1e-6)
    assert surpyval_fit(lives) == pytest.approx(most_likely(lives), abs=1e-8)


AWKWARD: list[tuple[str, list[Life]]] = [
    ("no failure", [(100, INF, 0, 1), (200, INF, 0, 1)]),
    ("one failure", [(100, 100, 0, 1), (300, INF, 0, 4)]),
    ("one failure later than all survivors", [(300, 300, 0, 1), (100, INF, 0, 4)]),
    ("equal lives", [(100, 100, 0, 5)]),
    ("one life alone", [(100, 100, 0, 1)]),
    ("one life alone, still good", [(100, INF, 0, 1)]),
]


@pytest.mark.parametrize("rows", [rows for _, rows in AWKWARD], ids=[name for name, _ in AWKWARD])
def test_where_others_refuse_or_invent_we_give_a_bound(rows: list[Life]) -> None:
    """surpyval refuses each of these; a shop that asks still learns how short lives are not."""
    lives = lives_from(rows)
    with pytest.raises(ValueError, match=r"free parameter|only right censored"):
        surpyval_fit(lives)
    fit = fit_weibull(lives)
    assert isinstance(fit, NotEnoughData)
    assert 0 < fit.life_interval(0.1)[0] < INF
    assert 0 <= fit.risk(50, 10).lower <= fit.risk(50, 10).upper < 1
