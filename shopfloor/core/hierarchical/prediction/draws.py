"""The laws of life that a posterior allows for some conditions: weighted draws, the same each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, spent
from shopfloor.core.survival.censored_data import FloatArray

DRAWS = 256
WIDER = 1.25
"""Draws come from laws so much wider than the normal ones, so that weights can correct these in their tails."""

MOST_WEIGHT = 3.0
"""Log of the largest weight of a draw over the mean weight of its setting."""

HARDLY = 1e-9
"""Variance, in squared logs, that sets conditions apart which have an effect in common, as the shape of one group."""


@dataclass(frozen=True, eq=False)
class Laws:
    """Draws of the laws of one mode in n conditions, jointly.

    Attributes
    ----------
    log_shape, log_scale : (s, n)
    frailty : (s,)
    log_weight : (s,)        of each draw; 0 as far as the normal laws hold
    """

    log_shape: FloatArray
    log_scale: FloatArray
    frailty: FloatArray
    log_weight: FloatArray

    def by_smaller(self, share: float) -> Laws:
        """The same laws with the last condition counted in a unit of `share` of the old one."""
        if share == 1.0:
            return self
        log_scale = self.log_scale.copy()
        log_scale[:, -1] -= np.log(share)
        return replace(self, log_scale=log_scale)

    def spent(self, ages: FloatArray) -> FloatArray:
        """A = -log S at ages (t,) in the last of the conditions for every draw, shape (s, t)."""
        log_ages = np.log(np.maximum(ages, 1e-300))
        w = log_ages - self.log_scale[:, -1:]
        w *= np.exp(self.log_shape[:, -1:])
        hazard = np.exp(np.minimum(w, MOST_LOG_HAZARD, out=w), out=w)
        hazard[:, ages <= 0] = 0.0
        return spent(hazard, self.frailty[:, None])


def weights(laws: Sequence[Laws]) -> FloatArray:
    """Weights of joint draws, shape (s,); several modes weigh together."""
    together = np.sum([one.log_weight for one in laws], axis=0)
    weight = np.exp(together - together.max())
    return np.asarray(weight / weight.sum())


def draw(posterior: Posterior, conditions: Sequence[Condition], draws: int = DRAWS, stream: int = 0) -> Laws:
    """Draws of the laws of these conditions together.

    Each condition's own likelihood, which need not be normal, corrects the normal law by weights (as in J. Geweke,
    Bayesian inference in econometric models using Monte Carlo integration, Econometrica 57 (1989) 1317-1339).

    Parameters
    ----------
    conditions    any, seen in the log or not
    stream        draws of different streams are independent: one for each mode
    """
    n = len(conditions)
    points = _normal_points(draws, 2 * n, stream)
    setting = np.searchsorted(np.cumsum(posterior.weight), _levels(draws, stream))
    setting = np.minimum(setting, len(posterior.weight) - 1)
    mean, covariance = posterior.normal(conditions)
    places = np.arange(2 * n)
    covariance[:, places, places] += HARDLY
    root = np.linalg.cholesky(covariance)
    away = WIDER * np.einsum("sij,sj->si", root[setting], points).reshape(draws, n, 2)
    at = mean[setting].reshape(draws, n, 2) + away
    log_weight = 0.5 * (points**2).sum(axis=1) * (1 - WIDER**2)
    for i, condition in enumerate(conditions):
        place = posterior.place(condition)
        if place is not None:
            log_weight = log_weight + _correction(posterior, place, setting, at[:, i], away[:, i])
    return Laws(at[..., 0], at[..., 1], posterior.frailty[setting], _evened(log_weight, setting))


def _correction(posterior: Posterior, place: int, setting: IntArray, at: FloatArray, away: FloatArray) -> FloatArray:
    """log of a condition's own likelihood over its normal law, at each draw, but for a constant of each setting."""
    here = posterior.likelihood.at_one(place, at[:, 0], at[:, 1], posterior.frailty[setting])
    (bb, bm, mm), (by_b, by_m) = posterior.own[setting, place].T, posterior.slope[setting, place].T
    b, m = away.T
    return np.asarray(here - (by_b * b + by_m * m - 0.5 * (bb * b**2 + 2 * bm * b * m + mm * m**2)))


def _evened(log_weight: FloatArray, setting: IntArray) -> FloatArray:
    """Log weights of mean weight 1 in each setting, whose chance the number of its draws tells already."""
    peak = np.full(setting.max() + 1, -np.inf)
    np.maximum.at(peak, setting, log_weight)
    weight = np.exp(log_weight - peak[setting])
    mean = np.bincount(setting, weight) / np.maximum(np.bincount(setting), 1)
    return np.minimum(np.log(np.maximum(weight, 1e-300) / mean[setting]), MOST_WEIGHT)


@lru_cache(maxsize=64)
def _normal_points(draws: int, dimensions: int, stream: int) -> FloatArray:
    """Evenly spread standard normal points (scrambled Sobol sequence, fixed seed)."""
    even = qmc.Sobol(dimensions, rng=np.random.default_rng([dimensions, stream])).random(draws)
    return np.asarray(ndtri(np.clip(even, 1e-6, 1 - 1e-6)))


@lru_cache(maxsize=64)
def _levels(draws: int, stream: int) -> FloatArray:
    """Levels at which settings are drawn, in an order of their own, so that they do not go with the points."""
    return np.asarray(np.random.default_rng([draws, stream]).permutation((np.arange(draws) + 0.5) / draws))
