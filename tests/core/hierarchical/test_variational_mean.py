"""The Gaussians lie at the mean of the posterior, not at its maximum."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior, posteriors
from shopfloor.core.hierarchical.model import priors
from shopfloor.core.hierarchical.model.competing_intervals import (
    ModeDistributions,
    interval_failures,
)
from shopfloor.core.hierarchical.model.competing_risks import CompetingLikelihood
from shopfloor.core.hierarchical.model.conditions import Histories
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.prediction.draws import draw, weights
from shopfloor.core.survival.censored_data import FloatArray, Lives
from tests.core.hierarchical.prior_shops import PriorShop, draw_shop
from tests.core.hierarchical.shops import CONDITIONS

NO_FAILURE = Lives.of([300.0, 120.0], [np.inf, np.inf])
ONE_FAILURE = Lives.of([250.0, 300.0, 120.0], [250.0, np.inf, np.inf], mode=["break", "", ""])


def mean_by_grid(likelihood: ModeLikelihood, setting: priors.Hyperparameters) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of (b, m) of one condition in one setting, summed over a fine grid."""
    b, m = np.meshgrid(np.linspace(-1, 3, 241), np.linspace(2, 14, 601), indexing="ij")
    other = (priors.CENTRE_SD, priors.FAMILY_SD, priors.ISO_GROUP_SD, priors.MATERIAL_SD, setting.group_sd)
    slow = np.log(6.0 / priors.USUAL_SPEED)
    var_m = sum(sd**2 for sd in other) + (priors.SPEED_POWER_SD * slow) ** 2
    var_b = setting.shape_sd**2 + setting.shape_family_sd**2 + setting.shape_group_sd**2
    value = likelihood.log_likelihood(b.reshape(-1, 1), m.reshape(-1, 1), np.full(b.size, setting.frailty)).value
    away = m - priors.CENTRE - priors.SPEED_POWER * slow
    density = np.exp(value.reshape(b.shape) - 0.5 * ((b - setting.shape) ** 2 / var_b + away**2 / var_m))
    density /= density.sum()
    mean = np.array([(density * x).sum() for x in (b, m)])
    return mean, np.sqrt([(density * (x - at) ** 2).sum() for x, at in zip((b, m), mean, strict=True)])


@pytest.mark.parametrize("lives", [ONE_FAILURE, NO_FAILURE], ids=["one failure", "none"])
def test_after_few_failures_the_mean_is_that_of_a_grid(lives: Lives) -> None:
    """In every setting that counts, within a quarter of the spread; the draws' mean and spread within a tenth."""
    histories = Histories.plain(lives, np.zeros(len(lives)))
    found, likelihood = posterior(histories, CONDITIONS[:1], "break"), ModeLikelihood(histories, "break", 1)
    mean, _ = found.normal(CONDITIONS[:1])
    for k in np.flatnonzero(found.weight > 0.01):
        wanted, sd = mean_by_grid(likelihood, found.design.hyperparameters[k])
        assert (np.abs(wanted - mean[k]) < 0.25 * sd).all()
        drawn, spread = drawn_middle(replace(found, weight=np.eye(len(found.weight))[k]))
        assert (np.abs(wanted - drawn) < 0.1 * sd).all()
        assert sd == pytest.approx(spread, rel=0.1)


def drawn_middle(known: Posterior) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of (b, m) by weighted draws."""
    laws = draw(known, CONDITIONS[:1], count=4096)
    values, weight = np.stack([laws.log_shape[:, 0], laws.log_scale[:, 0]]), weights([laws])
    mean = values @ weight
    return mean, np.sqrt((values - mean[:, None]) ** 2 @ weight)


def pull(known: Posterior, shop: PriorShop, setting: int, draws: int = 4000) -> tuple[FloatArray, FloatArray]:
    """Mean gradient of the log posterior over a Gaussian, in standard deviations, and the mean's own error."""
    shared, rng = known.design, np.random.default_rng(0)
    effects = known.effects[setting] + rng.standard_normal((draws, known.effects.shape[1])) @ known.root[setting]
    frailty = np.full(draws, known.frailty[setting])
    likelihood = ModeLikelihood(shop.histories, "break", len(shop.conditions))
    terms = likelihood.log_likelihood(effects @ shared.shape.T, effects @ shared.scale.T, frailty)
    slope = terms.by_b @ shared.shape + terms.by_m @ shared.scale
    slope = slope - (effects - shared.mean[setting]) / shared.sd[setting] ** 2
    slope = slope @ known.root[setting].T
    return slope.mean(axis=0), slope.std(axis=0) / np.sqrt(draws)


def test_on_the_average_over_the_law_nothing_pulls_it_away() -> None:
    """In the likeliest setting of a shop, in every direction: by less than a fifth of a spread, beyond chance."""
    shop = draw_shop(np.random.default_rng(3))
    known = posterior(shop.histories, shop.conditions, "break")
    mean, error = pull(known, shop, int(known.weight.argmax()))
    assert (np.abs(mean) < 0.2 + 4 * error).all()


@pytest.mark.parametrize(("seed", "number"), [(1, 16), (1, 28), (2, 19)])
def test_modes_are_found_together_where_taps_make_a_few_holes(seed: int, number: int) -> None:
    """In shops where straight lines for competing survival once failed, the gradient at the maximum is 0."""
    rng = np.random.default_rng(seed)
    *_, shop = (draw_shop(rng, ("break", "wear")) for _ in range(number + 1))
    found = posteriors(shop.histories, shop.conditions, ["break", "wear"])
    laws = {mode: at_maximum(one, mode) for mode, one in found.items()}
    within = interval_failures(shop.histories, list(laws.values()))
    for mode, one in found.items():
        likelihood = CompetingLikelihood(shop.histories, within, mode, len(shop.conditions))
        others = [law for other, law in laws.items() if other != mode]
        terms = likelihood.given(others).log_likelihood(laws[mode].log_shape, laws[mode].log_scale, one.frailty)
        slope = terms.by_b @ one.design.shape + terms.by_m @ one.design.scale
        slope = slope - (one.map_effects - one.design.mean) / one.design.sd**2
        assert np.abs(np.einsum("kp,kqp->kq", slope, one.root)).max() < 0.1


def at_maximum(one: Posterior, mode: str) -> ModeDistributions:
    """The distributions of a mode at the maximum of its posterior."""
    b, m = one.map_effects @ one.design.shape.T, one.map_effects @ one.design.scale.T
    return ModeDistributions(mode, b, m, one.frailty, one.weight)
