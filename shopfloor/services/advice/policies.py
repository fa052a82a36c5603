"""The age at which to change taps of each kind, at the shop's costs, and how often they break then.

What is kept of it, and by what it is found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shopfloor.core.decision.replacement_age import Costs, ReplacementPolicy
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.packing import packed, unpacked
from shopfloor.settings import Settings


@dataclass(frozen=True)
class PolicyQuestion:
    """What a policy depends on; ages are in holes worth `usual_holes` of the usual depth each."""

    condition: Condition
    costs: Costs
    level: float
    usual_holes: float = 1.0

    @property
    def plain(self) -> list[Any]:
        """The same in plain values that JSON can hold."""
        costs = [self.costs.planned, self.costs.failure, self.costs.stop]
        return [self.condition.plain, costs, self.level, self.usual_holes]

    @classmethod
    def of_plain(cls, told: list[Any]) -> PolicyQuestion:
        """The question whose `plain` values these are."""
        condition, (planned, failure, stop), level, usual_holes = told
        return cls(Condition.of_plain(condition), Costs(planned, tuple(failure), stop), level, usual_holes)


@dataclass(frozen=True)
class Advised:
    """When to change taps of a kind, and how often taps that are used like that break, in breaks per hole."""

    policy: ReplacementPolicy
    break_rate: float


Policies = Mapping[PolicyQuestion, Advised]


def costs_of(settings: Settings, price: float | None) -> Costs:
    """What a change and a failure of a tap at this price cost; None: the default price."""
    planned = (settings.default_tap_cost if price is None else price) + settings.change_cost
    # A stop within a batch interrupts work once more, for as long as a change takes. Common practice, no source.
    failure = planned + settings.break_cost, planned + settings.wear_cost
    return Costs(planned, failure, settings.change_cost)


def packed_policies(policies: Policies) -> bytes:
    """The policies as bytes."""
    return packed([[question.plain, one.policy.plain, one.break_rate] for question, one in policies.items()])


def unpacked_policies(body: bytes) -> dict[PolicyQuestion, Advised]:
    """The policies that were packed."""
    told, _ = unpacked(body)
    return {
        PolicyQuestion.of_plain(question): Advised(ReplacementPolicy.of_plain(policy), break_rate)
        for question, policy, break_rate in told
    }
