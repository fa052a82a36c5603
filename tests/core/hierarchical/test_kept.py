"""What is kept of a posterior answers as the posterior itself, to the last digit."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np
import pytest

from shopfloor.core.decision.replacement_age import Costs, ReplacementPolicy, best_policy
from shopfloor.core.hierarchical.inference.kept_posterior import packed_posterior, unpacked_posterior
from shopfloor.core.hierarchical.inference.posterior import Posterior, experience, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, Trait
from shopfloor.core.hierarchical.prediction.draws import Draws, draw
from shopfloor.core.hierarchical.prediction.kept_draws import packed_draws, unpacked_draws
from shopfloor.core.hierarchical.prediction.slip_model import NO_MODEL, SlipModel
from shopfloor.core.vocabulary import IsoGroup
from tests.core.hierarchical.shops import CONDITIONS, TOLD, plain

MODES = ["break", "wear"]
UNSEEN = Condition("C", "brass", IsoGroup.N, None, ((Trait.HOLE, "blind"),))


@pytest.fixture(scope="module", params=[plain(3), Histories.of(TOLD)], ids=["one condition a life", "several"])
def found(request: pytest.FixtureRequest) -> dict[str, Posterior]:
    """The posterior of breaks and of wear, which compete within intervals."""
    return posteriors(request.param, CONDITIONS, MODES)


def numbers(draws: Draws) -> list[bytes]:
    """All numbers of draws."""
    return [getattr(draws, name).tobytes() for name in ("log_shape", "log_scale", "frailty", "log_weight")]


def told(one: Posterior, conditions: Sequence[Condition]) -> tuple[list[bytes], list[float]]:
    """What pages ask a posterior."""
    return numbers(draw(one, conditions)), [one.shrinkage(condition) for condition in conditions]


def test_a_kept_posterior_answers_the_same(found: dict[str, Posterior]) -> None:
    """In conditions of the log and others, one and several together; also how much the log holds."""
    again = {mode: unpacked_posterior(packed_posterior(one)) for mode, one in found.items()}
    for conditions in [CONDITIONS[:1], (UNSEEN,), (CONDITIONS[3], UNSEEN, CONDITIONS[0])]:
        for mode in MODES:
            assert told(found[mode], conditions) == told(again[mode], conditions)
        seen = [experience(list(one.values()), conditions[0]) for one in (found, again)]
        assert seen[0] == seen[1]


def test_kept_draws_are_the_same(found: dict[str, Posterior]) -> None:
    """One by one, of every condition of the log."""
    drawn = {one: draw(found["break"], (one,), stream=1) for one in CONDITIONS}
    again = unpacked_draws(packed_draws(drawn))
    assert list(CONDITIONS) == list(again)
    assert [numbers(one) for one in drawn.values()] == [numbers(one) for one in again.values()]
    assert {} == unpacked_draws(packed_draws({}))


@pytest.mark.parametrize("wear", [4.0, 1.0], ids=["an age", "none"])
def test_a_kept_policy_is_the_same(found: dict[str, Posterior], wear: float) -> None:
    """Where a change in time pays and where it does not; as JSON holds it."""
    draws = [draw(one, CONDITIONS[:1], stream=i) for i, one in enumerate(found.values())]
    policy = best_policy(draws, Costs(1.0, (6.0 * (wear > 1) + 1.0, wear)), 0.9)
    assert policy == ReplacementPolicy.of_plain(json.loads(json.dumps(policy.plain)))
    assert (wear > 1) == (policy.age is not None)


@pytest.mark.parametrize(
    "model", [SlipModel({("", ""): 0.01, ("M8", "steel"): 1 / 3}, np.linspace(0.5, 2, 7), 1.2), NO_MODEL]
)
def test_a_kept_slip_model_is_the_same(model: SlipModel) -> None:
    """Learned or not."""
    again = SlipModel.of_plain(json.loads(json.dumps(model.plain)))
    assert (model.rates, model.by_age.tolist(), model.strength) == (again.rates, again.by_age.tolist(), again.strength)
