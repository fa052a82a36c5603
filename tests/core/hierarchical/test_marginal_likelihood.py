"""The weight of hyperparameters against sums over a grid, and against sampling, the likelihood written out here."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import logsumexp

from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior
from shopfloor.core.hierarchical.model.conditions import Histories, IntArray
from shopfloor.core.hierarchical.model.design import design
from shopfloor.core.hierarchical.model.priors import Hyperparameters, hyperparameter_grid
from shopfloor.core.survival.censored_data import FloatArray, Lives
from tests.core.hierarchical.shops import CONDITIONS, some_lives, subset


def log_likelihood(lives: Lives, condition: IntArray, b: FloatArray, m: FloatArray, frailty: float) -> FloatArray:
    """At log shapes and log scales of shape (..., c); gamma frailty as in Hougaard 2000, section 2.4."""
    shape, scale = np.exp(b[..., condition]), np.exp(m[..., condition])

    def spent(age: FloatArray) -> FloatArray:
        hazard = (age / scale) ** shape
        return np.asarray(np.log1p(frailty * hazard) / frailty if frailty else hazard)

    is_break = lives.mode == "break"
    is_exact = is_break & (lives.lower == lives.upper)
    upper = np.where(is_break, lives.upper, 1e300)
    with np.errstate(over="ignore"):
        within = np.log(np.maximum(np.exp(-spent(lives.lower)) - np.exp(-spent(upper)), 1e-300))
    log_age = np.log(np.maximum(lives.lower, 1))
    log_rate = np.log(shape) - m[..., condition] + (shape - 1) * (log_age - m[..., condition])
    exact = log_rate - (1 + frailty) * spent(lives.lower)
    survived = -spent(np.where(is_break, 0.0, lives.lower))
    told = np.where(is_exact, exact, np.where(is_break, within, survived)) + spent(lives.entry)
    return np.asarray(told.sum(axis=-1))


def weights_of(found: Posterior, told: tuple[Hyperparameters, ...]) -> FloatArray:
    """Of every setting, 0 where it was left out."""
    kept = dict(zip(found.design.hyperparameters, found.weight, strict=True))
    return np.array([kept.get(one, 0.0) for one in told])


@pytest.mark.parametrize(("seed", "per_condition"), [(11, 6), (3, 3), (5, 2)])
def test_one_group_alone_weighs_settings_as_a_grid_does(seed: int, per_condition: int) -> None:
    """Prior and likelihood of log shape and log scale summed over a fine grid, for each setting."""
    lives, condition = some_lives(seed, per_condition)
    own = subset(lives, condition == 0)
    nowhere: IntArray = np.zeros(len(own), dtype=np.int64)
    told = hyperparameter_grid("break")
    shared = design(CONDITIONS[:1], told)
    b, m = np.meshgrid(np.linspace(-1.2, 2.8, 201), np.linspace(3, 10, 281), indexing="ij")
    evidence = []
    for k, one in enumerate(told):
        (mean_b,), (mean_m,) = shared.shape @ shared.mean[k], shared.scale @ shared.mean[k]
        (var_b,), (var_m,) = shared.shape**2 @ shared.sd[k] ** 2, shared.scale**2 @ shared.sd[k] ** 2
        prior = -0.5 * ((b - mean_b) ** 2 / var_b + (m - mean_m) ** 2 / var_m) - 0.5 * np.log(var_b * var_m)
        value = log_likelihood(own, nowhere, b[..., None], m[..., None], one.frailty)
        evidence.append(logsumexp(value + prior) + one.log_prior)
    exact = np.exp(evidence - logsumexp(evidence))
    found = posterior(Histories.plain(own, nowhere), CONDITIONS[:1], "break")
    assert weights_of(found, told) == pytest.approx(exact, abs=0.012)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_a_shop_weighs_settings_as_sampling_does(seed: int) -> None:
    """Few lives each in four groups: effects drawn more widely than the posterior, with importance weights."""
    lives, condition = some_lives(seed, per_condition=5)
    told = hyperparameter_grid("break")
    found = posterior(Histories.plain(lives, condition), CONDITIONS, "break")
    rng, draws, wider = np.random.default_rng(seed), 20_000, 1.15
    evidence, sure = [], []
    for k, one in enumerate(found.design.hyperparameters):
        normal = rng.standard_normal((draws, found.effects.shape[1]))
        effects = found.effects[k] + wider * normal @ found.root[k]
        mean, sd = found.design.mean[k], found.design.sd[k]
        prior = -0.5 * (((effects - mean) / sd) ** 2).sum(axis=1) - np.log(sd).sum()
        b, m = effects @ found.design.shape.T, effects @ found.design.scale.T
        log_weight = log_likelihood(lives, condition, b, m, one.frailty) + prior + 0.5 * (normal**2).sum(axis=1)
        _, log_volume = np.linalg.slogdet(found.root[k])
        evidence.append(logsumexp(log_weight) + log_volume + one.log_prior)
        sure.append(np.exp(2 * logsumexp(log_weight) - logsumexp(2 * log_weight)))
    assert min(sure) > 400
    sampled = np.exp(evidence - logsumexp(evidence))
    assert found.weight == pytest.approx(sampled, rel=0.09, abs=0.004)
    assert len(told) >= len(sampled) >= 6
