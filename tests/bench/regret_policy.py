"""The shop's advice as a policy of the decision benchmark: the same functions that the pages call.

`policy(log)` answers, for each of `log.groups`, the age in holes at which to change a tap, or None.
"""

from __future__ import annotations

from typing import Any

from shopfloor.core.decision.replacement_age import Costs, best_policy
from shopfloor.core.hierarchical.inference.posterior import experience, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.prediction.draws import draw
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.vocabulary import IsoGroup, Mode

LEVEL = 0.90
ISO_GROUPS = {group.value: group for group in IsoGroup}
MODES = ("", Mode.BREAK.value, Mode.WEAR.value)


def policy(log: Any) -> list[float | None]:
    """Advice for every group of a simulated shop."""
    conditions = [Condition(g.family, g.material, ISO_GROUPS[g.material], g.speed) for g in log.groups]
    lives = Lives.of(log.lower, log.upper, log.entry, [MODES[mode] for mode in log.mode])
    histories = Histories.plain(lives, log.group)
    modes = [mode for mode in MODES[1:] if mode == Mode.BREAK.value or mode in lives.modes()]
    known = list(posteriors(histories, conditions, modes).values())
    answers = []
    for condition, group in zip(conditions, log.groups, strict=True):
        laws = [draw(one, [condition], stream=i) for i, one in enumerate(known)]
        costs = Costs(group.cost_planned, (group.cost_break, group.cost_wear)[: len(laws)])
        answers.append(best_policy(laws, costs, LEVEL, experience(known, condition)).age)
    return answers
