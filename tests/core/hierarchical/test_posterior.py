"""The pooled posterior against brute force, and what must hold whatever the lives are."""

from __future__ import annotations

import numpy as np
import pytest

from shopfloor.core.decision.replacement_age import credible_interval
from shopfloor.core.hierarchical.inference.posterior import posterior
from shopfloor.core.hierarchical.model import priors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.model.likelihood import ModeLikelihood
from shopfloor.core.hierarchical.prediction.draws import draw, weights
from shopfloor.core.vocabulary import IsoGroup
from tests.core.hierarchical.shops import CONDITIONS, SCALES, plain, some_lives, subset

C = len(CONDITIONS)
NEW = Condition("C", "tool steel", IsoGroup.H, 6.0)


def median_life(histories: Histories, condition: Condition = CONDITIONS[0]) -> float:
    """Median over the posterior of the scale of breaks."""
    laws = draw(posterior(histories, CONDITIONS, "break"), [condition])
    return credible_interval(np.exp(laws.log_scale[:, -1]), weights([laws]), 1e-6)[0]


def test_one_group_alone_agrees_with_a_grid() -> None:
    """Mean log shape and log scale, and their spread, against the same prior and likelihood summed over a fine grid."""
    lives, condition = some_lives(11, per_condition=6)
    only = condition == 0
    histories = Histories.plain(subset(lives, only), np.zeros(int(only.sum())))
    told = priors.hyperparameter_grid("break")
    likelihood = ModeLikelihood(histories, "break", 1)
    b, m = np.meshgrid(np.linspace(-1, 2.6, 181), np.linspace(4, 9, 251), indexing="ij")
    mean_m = priors.CENTRE + priors.SPEED_POWER * np.log(6.0 / priors.USUAL_SPEED)
    total = np.zeros_like(b)
    for one in told:
        var_b = one.shape_sd**2 + one.shape_family_sd**2 + one.shape_group_sd**2
        var_m = (
            sum(
                sd**2
                for sd in (priors.CENTRE_SD, priors.FAMILY_SD, priors.ISO_GROUP_SD, priors.MATERIAL_SD, one.group_sd)
            )
            + (priors.SPEED_POWER_SD * np.log(0.6)) ** 2
        )
        value = likelihood.log_likelihood(b.reshape(-1, 1), m.reshape(-1, 1), np.full(b.size, one.frailty)).value
        prior = -0.5 * ((b - one.shape) ** 2 / var_b + (m - mean_m) ** 2 / var_m) - 0.5 * np.log(var_b * var_m)
        total += np.exp(value.reshape(b.shape) + prior + one.log_prior)
    total /= total.sum()
    laws = draw(posterior(histories, CONDITIONS[:1], "break"), CONDITIONS[:1], count=4096)
    weight = weights([laws])
    for grid, found in ((b, laws.log_shape[:, 0]), (m, laws.log_scale[:, 0])):
        mean = (total * grid).sum()
        sd = np.sqrt((total * (grid - mean) ** 2).sum())
        assert mean == pytest.approx(weight @ found, abs=0.1 * sd)
        assert sd == pytest.approx(np.sqrt(weight @ (found - weight @ found) ** 2), rel=0.1)


def test_many_lives_tell_the_truth() -> None:
    """With 150 lives a condition the scales come out within their spread, whatever was believed beforehand."""
    histories = plain(12, per_condition=150)
    found = posterior(histories, CONDITIONS, "break")
    for condition, scale in zip(CONDITIONS, SCALES, strict=True):
        laws = draw(found, [condition])
        low, high = credible_interval(np.exp(laws.log_scale[:, -1]), weights([laws]), 0.998)
        # Wear takes a third of the failures, so breaks alone come later: 1.5^(1/2.2) = 1.2 times.
        assert low < 1.2 * scale < high


def test_the_order_of_lives_and_of_conditions_does_not_matter() -> None:
    """Renumbered and shuffled, the same answer."""
    lives, condition = some_lives(13)
    order = np.random.default_rng(0).permutation(len(condition))
    turned = Histories.plain(subset(lives, order), (C - 1 - condition)[order])
    here = posterior(Histories.plain(lives, condition), CONDITIONS, "break")
    there = posterior(turned, CONDITIONS[::-1], "break")
    for one in CONDITIONS:
        assert here.normal([one])[0] == pytest.approx(there.normal([one])[0], abs=1e-4)
        assert here.shrinkage(one) == pytest.approx(there.shrinkage(one), abs=1e-3)


def test_another_survivor_never_shortens_life() -> None:
    """A tap that outlived the others makes the condition look better."""
    lives, condition = some_lives(14)
    more = subset(lives, np.append(np.arange(len(lives)), np.flatnonzero(~lives.is_failure & (condition == 0))[0]))
    before = median_life(Histories.plain(lives, condition))
    assert before < median_life(Histories.plain(more, np.append(condition, 0)))


def test_what_was_never_seen_is_answered_from_the_rest() -> None:
    """A new tap type in a new material borrows from others alone and is known less well; hardened steel is shorter."""
    found = posterior(plain(17), CONDITIONS, "break")
    spread = [np.sqrt(found.weight @ found.normal([one])[1][:, 1, 1]) for one in (CONDITIONS[0], NEW)]
    assert 2 * spread[0] < spread[1]
    assert (True, 1.0) == (found.shrinkage(CONDITIONS[0]) < 1, found.shrinkage(NEW))
    means = [found.weight @ found.normal([one])[0][:, 1] for one in (CONDITIONS[0], NEW)]
    assert means[1] < means[0]


@pytest.mark.parametrize("shape", [1.0, 20.0])
def test_extreme_shapes_do_no_harm(shape: float) -> None:
    """Neither a flat hazard nor lives that all end at one age upset the search."""
    found = posterior(plain(18, shape=shape), CONDITIONS, "break")
    assert np.isfinite(found.effects).all()
    assert 1 == pytest.approx(found.weight.sum())
