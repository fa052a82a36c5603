"""Weighted draws of the life distributions of some conditions from the posterior, the same each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition, IntArray
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, cumulative_hazard
from shopfloor.core.survival.censored_data import FloatArray

DRAWS = 256
INFLATION = 1.25
"""Draws come from Gaussians this much wider than the posterior's, so that weights can correct their tails."""

MOST_WEIGHT = 3.0
"""Log of the largest weight of a draw over the mean weight of its hyperparameter setting."""

JITTER = 1e-9
"""Variance, in squared logs, added so that conditions with a common effect, such as the shape of a group, keep a
regular covariance."""


@dataclass(frozen=True, eq=False)
class Draws:
    """Joint draws of the Weibull distributions of one mode in n conditions.

    Attributes
    ----------
    log_shape, log_scale : (s, n)    scale in holes
    frailty : (s,)                   variance of the gamma frailty
    log_weight : (s,)                importance weight of each draw; 0 as far as the Gaussians hold
    """

    log_shape: FloatArray
    log_scale: FloatArray
    frailty: FloatArray
    log_weight: FloatArray

    def in_smaller_unit(self, share: float) -> Draws:
        """The same draws with the last condition counted in a unit of `share` of the old one."""
        if share == 1.0:
            return self
        log_scale = self.log_scale.copy()
        log_scale[:, -1] -= np.log(share)
        return replace(self, log_scale=log_scale)

    def cumulative_hazard(self, ages: FloatArray) -> FloatArray:
        """A = -log S at ages (t,), in holes of the last condition, for every draw: shape (s, t)."""
        log_ages = np.log(np.maximum(ages, 1e-300))
        w = log_ages - self.log_scale[:, -1:]
        w *= np.exp(self.log_shape[:, -1:])
        hazard = np.exp(np.minimum(w, MOST_LOG_HAZARD, out=w), out=w)
        hazard[:, ages <= 0] = 0.0
        return cumulative_hazard(hazard, self.frailty[:, None])


def weights(draws: Sequence[Draws]) -> FloatArray:
    """Normalised weights of joint draws, shape (s,); the importance weights of several modes multiply."""
    together = np.sum([one.log_weight for one in draws], axis=0)
    weight = np.exp(together - together.max())
    return np.asarray(weight / weight.sum())


def draw(posterior: Posterior, conditions: Sequence[Condition], count: int = DRAWS, stream: int = 0) -> Draws:
    """Joint draws of the life distributions of some conditions.

    Each condition's own likelihood, which need not be Gaussian, corrects the Gaussian by importance weights.

    Parameters
    ----------
    posterior     of one mode
    conditions    any, whether in the log or not
    count         number of draws, a power of 2
    stream        number of an independent stream: one for each mode

    References
    ----------
    J. Geweke, Bayesian inference in econometric models using Monte Carlo integration, Econometrica 57 (1989) 1317-1339
    """
    n = len(conditions)
    points = _normal_points(count, 2 * n, stream)
    setting = np.searchsorted(np.cumsum(posterior.weight), _levels(count, stream))
    setting = np.minimum(setting, len(posterior.weight) - 1)
    mean, covariance = posterior.normal(conditions)
    places = np.arange(2 * n)
    covariance[:, places, places] += JITTER
    root = np.linalg.cholesky(covariance)
    away = INFLATION * np.einsum("sij,sj->si", root[setting], points).reshape(count, n, 2)
    at = mean[setting].reshape(count, n, 2) + away
    log_weight = 0.5 * (points**2).sum(axis=1) * (1 - INFLATION**2)
    for i, condition in enumerate(conditions):
        place = posterior.place(condition)
        if place is not None:
            log_weight = log_weight + _correction(posterior, place, setting, at[:, i], away[:, i])
    return Draws(at[..., 0], at[..., 1], posterior.frailty[setting], _normalised(log_weight, setting))


def _correction(posterior: Posterior, place: int, setting: IntArray, at: FloatArray, away: FloatArray) -> FloatArray:
    """Log of a condition's own likelihood over its Gaussian at each draw, up to a constant per setting."""
    here = posterior.own.log_likelihood(place, at[:, 0], at[:, 1], posterior.frailty[setting])
    (bb, bm, mm), (by_b, by_m) = posterior.own_precision[setting, place].T, posterior.own_gradient[setting, place].T
    b, m = away.T
    return np.asarray(here - (by_b * b + by_m * m - 0.5 * (bb * b**2 + 2 * bm * b * m + mm * m**2)))


def _normalised(log_weight: FloatArray, setting: IntArray) -> FloatArray:
    """Log weights with mean weight 1 in each setting, whose probability is already given by the number of its draws."""
    largest = np.full(setting.max() + 1, -np.inf)
    np.maximum.at(largest, setting, log_weight)
    weight = np.exp(log_weight - largest[setting])
    mean = np.bincount(setting, weight) / np.maximum(np.bincount(setting), 1)
    return np.minimum(np.log(np.maximum(weight, 1e-300) / mean[setting]), MOST_WEIGHT)


@lru_cache(maxsize=64)
def _normal_points(count: int, dimensions: int, stream: int) -> FloatArray:
    """Quasi-random standard normal points (scrambled Sobol sequence, fixed seed)."""
    # Takes 1 s to load, which a server that answers from kept draws need not wait for.
    from scipy.stats import qmc

    even = qmc.Sobol(dimensions, rng=np.random.default_rng([dimensions, stream])).random(count)
    return np.asarray(ndtri(np.clip(even, 1e-6, 1 - 1e-6)))


@lru_cache(maxsize=64)
def _levels(count: int, stream: int) -> FloatArray:
    """Levels at which hyperparameter settings are drawn, in their own order so that they do not correlate with the
    points.
    """
    return np.asarray(np.random.default_rng([count, stream]).permutation((np.arange(count) + 0.5) / count))
