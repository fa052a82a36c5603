"""Simulated shops that are drawn from the pool's own prior, with lives as a shop's log has them, and their truth.

In such shops a posterior that is worked out rightly is calibrated on the average: what it calls 90 % happens in 90 %.
When taps are changed or left does not depend on the truth, only on what the log tells until then. Ages are not rounded
to whole holes: the prior is so wide that it has shops whose taps make three.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.model.conditions import Condition, Histories, History, Trait, Use
from shopfloor.core.hierarchical.model.design import design
from shopfloor.core.hierarchical.model.frailty import cumulative_hazard
from shopfloor.core.hierarchical.model.priors import hyperparameter_grid
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.vocabulary import IsoGroup, Mode

Rng = np.random.Generator

FAMILIES = ("A", "B", "C")
MATERIALS = {
    "mild": IsoGroup.P, "alloy": IsoGroup.P, "austenitic": IsoGroup.M, "grey": IsoGroup.K, "aluminium": IsoGroup.N,
}  # fmt: skip
SPEEDS = (5.0, 9.0, 15.0)
GROUPS = 12
BATCHES = (10, 20, 25, 50, 100)

MOST_TAPS = 30
"""A group's log ends there, however short its taps live."""


@dataclass(frozen=True, eq=False)
class TrueLaw:
    """How taps of one mode live: log shape and log scale of each condition, shape (c,), and the taps' own spread."""

    log_shape: FloatArray
    log_scale: FloatArray
    frailty: float

    def hazard_spent(self, used: float, condition: int) -> float:
        """A = -log of the share that survives when so many characteristic lives are used up."""
        return float(
            cumulative_hazard(np.asarray(used ** math.exp(self.log_shape[condition])), np.asarray(self.frailty))
        )

    def used_up(self, past: Sequence[Use]) -> float:
        """Characteristic lives that the past has used up."""
        return sum(use.holes * math.exp(-self.log_scale[use.condition]) for use in past)

    def chance_of_failing(self, past: Sequence[Use], next_holes: float) -> float:
        """Chance of failing in the next holes of the last condition, having lasted until now."""
        last = past[-1].condition
        used = self.used_up(past)
        after = used + next_holes * math.exp(-self.log_scale[last])
        return -math.expm1(self.hazard_spent(used, last) - self.hazard_spent(after, last))

    def life_at(self, failed: float) -> FloatArray:
        """The age at which a share of new taps has failed, in each condition, shape (c,)."""
        a = -math.log1p(-failed)
        hazard = math.expm1(self.frailty * a) / self.frailty if self.frailty else a
        return np.asarray(np.exp(self.log_scale + math.log(hazard) * np.exp(-self.log_shape)))

    def age_at_failure(self, rng: Rng, entry: float, plan: Sequence[Use]) -> float:
        """When a tap fails that lives by the plan, its last use without end, having survived until entry."""
        before = entry * math.exp(-self.log_scale[plan[0].condition])
        a = self.hazard_spent(before, plan[0].condition) + rng.exponential()
        stands = math.expm1(min(self.frailty * a, 600.0)) / self.frailty if self.frailty else a
        used, age = before, entry
        for use in plan:
            scale = math.exp(self.log_scale[use.condition])
            # A change to a condition of another shape may be the end at once: in its first hole, not just before.
            left = max(stands ** math.exp(-self.log_shape[use.condition]) - used, 1e-9) * scale
            if left <= use.holes:
                return age + left
            used, age = used + use.holes / scale, age + use.holes
        return math.inf


@dataclass(frozen=True, eq=False)
class PriorShop:
    """A shop's log and the truth behind it.

    Attributes
    ----------
    laws         of each mode at work
    told         every life, in the order of conditions
    in_service   for each condition where there is one, the past of the tap that is in it now
    """

    conditions: tuple[Condition, ...]
    laws: Mapping[str, TrueLaw]
    told: tuple[History, ...]
    in_service: Mapping[int, tuple[Use, ...]]

    @property
    def histories(self) -> Histories:
        """The log as the posterior reads it."""
        return Histories.of(self.told)


def draw_shop(rng: Rng, modes: Sequence[str] = (Mode.BREAK.value,)) -> PriorShop:
    """A shop with all that the prior leaves open drawn by the prior."""
    conditions = _draw_conditions(rng)
    laws = {mode: draw_law(rng, conditions, mode) for mode in modes}
    told: list[History] = []
    in_service: dict[int, tuple[Use, ...]] = {}
    for place in range(len(conditions)):
        lives = _lives_of(rng, conditions, place, laws)
        told += lives
        if lives and not lives[-1].mode and len(lives) < MOST_TAPS:
            in_service[place] = _with_entry(lives[-1])
    return PriorShop(conditions, laws, tuple(told), in_service)


def draw_law(rng: Rng, conditions: Sequence[Condition], mode: str) -> TrueLaw:
    """Hyperparameters by their prior probability, then every effect by its standard deviation."""
    told = hyperparameter_grid(mode)
    setting = told[rng.choice(len(told), p=np.exp([one.log_prior for one in told]))]
    shared = design(conditions, [setting])
    effects = shared.mean[0] + shared.sd[0] * rng.standard_normal(shared.mean.shape[1])
    return TrueLaw(shared.shape @ effects, shared.scale @ effects, setting.frailty)


def _draw_conditions(rng: Rng) -> tuple[Condition, ...]:
    cells = [(family, material, speed) for family in FAMILIES for material in MATERIALS for speed in SPEEDS]
    chosen = [cells[i] for i in rng.permutation(len(cells))[:GROUPS]]
    holes = [((Trait.HOLE, str(rng.choice(["blind", "through"]))),) for _ in chosen]
    return tuple(
        Condition(family, material, MATERIALS[material], speed, traits)
        for (family, material, speed), traits in zip(chosen, holes, strict=True)
    )


def _lives_of(rng: Rng, conditions: tuple[Condition, ...], place: int, laws: Mapping[str, TrueLaw]) -> list[History]:
    """Taps one after the other until the work of the condition is done; the last one stays in service."""
    work = 0.0 if rng.random() < 0.1 else 10 * math.ceil(math.exp(rng.uniform(math.log(100), math.log(8000))) / 10)
    kin = [i for i, one in enumerate(conditions) if one.family == conditions[place].family and i != place]
    lives: list[History] = []
    while work > 0 and len(lives) < MOST_TAPS:
        entry = float(rng.integers(5, 60)) if rng.random() < 0.15 else 0.0
        plan = [Use(place, math.inf)]
        if kin and rng.random() < 0.15:
            plan = [Use(int(rng.choice(kin)), float(10 * rng.integers(1, 15))), *plan]
        stop = entry + sum(use.holes for use in plan[:-1]) + work
        if rng.random() < 0.3:
            stop = min(stop, entry + 10 * math.ceil(30 * math.exp(rng.standard_normal())))
        life = _seen(rng, _until(plan, stop - entry), entry, stop, laws)
        lives.append(life)
        work -= (life.upper if life.mode else life.lower) - entry
    return lives


def _until(plan: Sequence[Use], holes: float) -> list[Use]:
    """The plan cut off after so many holes."""
    cut = []
    for use in plan:
        cut.append(Use(use.condition, min(use.holes, holes)))
        holes -= use.holes
        if holes <= 0:
            break
    return cut


def _seen(rng: Rng, plan: Sequence[Use], entry: float, stop: float, laws: Mapping[str, TrueLaw]) -> History:
    """What the log tells of a tap: the hole of a failure, the batch of it, or that it still was good."""
    ages = {mode: law.age_at_failure(rng, entry, plan) for mode, law in laws.items()}
    mode = min(ages, key=lambda one: ages[one])
    age = ages[mode]
    is_known, batch = mode == Mode.BREAK.value and rng.random() < 0.6, float(rng.choice(BATCHES))
    if age > stop:
        return History(tuple(plan), stop, math.inf, entry)
    made, start = [], entry
    for use in plan:
        made.append(use)
        if age <= start + use.holes:
            break
        start += use.holes
    end = start + made[-1].holes
    lower = start + batch * (math.ceil((age - start) / batch) - 1) if age > start else start
    lower, upper = (age, age) if is_known else (lower, min(lower + batch, end))
    made[-1] = Use(made[-1].condition, upper - start)
    return History(tuple(made), lower, upper, entry, mode)


def _with_entry(life: History) -> tuple[Use, ...]:
    """Its uses, with what it had made before it was first seen counted to the first."""
    first, *others = life.uses
    return (Use(first.condition, first.holes + life.entry), *others)
