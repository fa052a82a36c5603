"""The posterior is honest over shops that are drawn from its own prior: the short form of `bench_calibration`."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from scipy.stats import chi2

from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.survival.censored_data import FloatArray
from tests.core.hierarchical.calibration import FIGURES, as_drawn, standing
from tests.core.hierarchical.prior_shops import draw_shop

SHOPS, BINS = 100, 10
"""Enough to tell: the chi-square of a posterior that is too sure is 52 and more, where 27.9 is the limit. With 80 shops
it is 34."""

FALSE_ALARMS = 0.001
"""How often each figure would be called uneven by chance, were the shops drawn anew."""


def too_sure(known: Posterior, place: int) -> Draws:
    """The same draws with half their spread."""
    laws = as_drawn(known, place)
    half = [(values + values.mean(axis=0)) / 2 for values in (laws.log_shape, laws.log_scale)]
    return replace(laws, log_shape=half[0], log_scale=half[1])


@lru_cache(maxsize=1)
def stood() -> dict[str, FloatArray]:
    """Where the truth stands in one condition of each shop, taken at random so that they are independent."""
    rng = np.random.default_rng(1)
    told: dict[str, list[tuple[float, ...]]] = {"as drawn": [], "too sure": []}
    for _ in range(SHOPS):
        shop = draw_shop(rng)
        known, place = posterior(shop.histories, shop.conditions, "break"), int(rng.integers(len(shop.conditions)))
        told["as drawn"].append(standing(known, shop.laws["break"], place).of)
        told["too sure"].append(standing(known, shop.laws["break"], place, too_sure).of)
    return {name: np.array(of) for name, of in told.items()}


def unevenness(shares: FloatArray) -> float:
    """Pearson's chi-square of the counts in equal bins against even counts."""
    counts = np.histogram(shares, BINS, (0.0, 1.0))[0]
    even = len(shares) / BINS
    return float(((counts - even) ** 2).sum() / even)


@pytest.mark.parametrize("figure", range(len(FIGURES)), ids=FIGURES)
def test_the_truth_stands_anywhere_among_the_draws(figure: int) -> None:
    """Its ranks are uniform, by a chi-square test that raises a false alarm once in 1,000 sets of shops."""
    assert unevenness(stood()["as drawn"][:, figure]) < chi2.ppf(1 - FALSE_ALARMS, BINS - 1)


@pytest.mark.parametrize("figure", range(len(FIGURES)), ids=FIGURES)
def test_a_posterior_that_is_too_sure_of_itself_is_found_out(figure: int) -> None:
    """With half the spread the truth stands outside too often, and the same test tells."""
    assert unevenness(stood()["too sure"][:, figure]) > chi2.ppf(1 - FALSE_ALARMS, BINS - 1)
