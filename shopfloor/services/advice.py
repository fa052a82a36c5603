"""Will this tap last this batch, when to change it, and what that saves: the life statistics, as the pages ask them.

A group is one tap type in one material at one speed band. Thin groups lean on wider ones (any speed, then any
material of the same tap type), and every answer says what it rests on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from sqlalchemy.orm import Session

from shopfloor.core.fit import LifeResult, WeibullFit, fit_modes, fit_weibull
from shopfloor.core.intervals import Estimate
from shopfloor.core.lives import Observation
from shopfloor.core.observations import Evidence, Lives
from shopfloor.core.replacement import FEWEST_FAILURES, ReplacementAdvice, advise_replacement
from shopfloor.core.vocabulary import Mode
from shopfloor.services.work import Work
from shopfloor.settings import Settings
from shopfloor.store import TapType
from shopfloor.store.queries.lives import Gathered, Situation, gather

_FITS_KEPT = 4096
_REACHES = ("at this speed", "at any speed", "in any material")


@dataclass(frozen=True)
class GroupLife:
    """What the log tells of the lives in one situation: both modes together, and each with the other censoring."""

    situation: Situation
    lives: Lives
    both: LifeResult
    modes: dict[str, LifeResult]
    evidence: Evidence

    @property
    def breaking(self) -> LifeResult:
        """Life until a break."""
        return self.modes[Mode.BREAK.value]

    def failures_by(self, mode: Mode) -> int:
        """Failures seen by one mode."""
        return self.modes[mode.value].evidence.failures


@dataclass(frozen=True)
class Advice:
    """Advice for one situation, with the group that it rests on.

    `reach` says how wide that group is: 'at this speed', 'at any speed', 'in any material'. `group` is None where the
    log holds no life of this tap type at all.
    """

    group: GroupLife | None
    reach: str
    replacement: ReplacementAdvice | None
    cost_planned: float
    cost_failure: float
    assumed: tuple[str, ...] = ()
    """Settings in place of a cost that the shop has not given: those of the tap type and of the two figures above."""

    @property
    def change_at(self) -> int | None:
        """Holes at which to change; None where nothing is gained by it or nobody can tell yet."""
        if self.replacement is None or self.replacement.plan is None or self.replacement.gain in ("none", "unknown"):
            return None
        age = self.replacement.plan.age
        return None if age is None else max(1, math.floor(age))

    @property
    def saving(self) -> Estimate | None:
        """Share of the cost per hole that the suggested change saves against running to failure; below 0 it loses."""
        found = self.replacement
        if self.change_at is None or found is None or found.plan is None or found.saving_interval is None:
            return None
        return Estimate(found.plan.saving, *found.saving_interval, found.level)

    def break_risk(self, holes: int | None, next_holes: int) -> Estimate | None:
        """Chance that a tap with `holes` on it breaks in the next ones; None where that cannot be told."""
        if self.group is None or holes is None:
            return None
        return self.group.breaking.risk(holes, next_holes)


class LifeBook:
    """All lives of the log (or of some tap types), fitted when asked."""

    def __init__(self, session: Session, settings: Settings, tap_types: Sequence[int] | None = None) -> None:
        self._gathered = gather(session, tap_types)
        self._settings = settings
        self._session = session

    @classmethod
    def open(cls, work: Work, session: Session, tap_types: Sequence[int] | None = None) -> LifeBook:
        """The book of this shop."""
        return cls(session, work.settings, tap_types)

    def situations(self) -> list[Situation]:
        """Every exact situation of which a life is known."""
        return [situation for situation in self._gathered if situation.speed_band is not None]

    def group(self, situation: Situation) -> GroupLife | None:
        """The lives of exactly this situation, or None where there is not one."""
        gathered = self._gathered.get(situation)
        return None if gathered is None else _group(situation, gathered, self._settings.level)

    def advice(self, situation: Situation) -> Advice:
        """Advice for a tap in this situation, leaning on wider ones where the log is thin."""
        group, reach = self._widest_needed(situation)
        price = self._price(situation.tap_type)
        planned, failure = self._costs(price, group)
        replacement = None if group is None else advise_replacement(group.both, planned, failure)
        assumed = (*(("default_tap_cost",) if price is None else ()), *self._settings.assumed_costs)
        return Advice(group, reach, replacement, planned, failure, assumed)

    def _widest_needed(self, situation: Situation) -> tuple[GroupLife | None, str]:
        reaches = _REACHES[len(_REACHES) - len(situation.widened()) :]
        groups = [(self.group(wider), reach) for wider, reach in zip(situation.widened(), reaches, strict=True)]
        known = [(group, reach) for group, reach in groups if group is not None]
        enough = [(group, reach) for group, reach in known if _is_enough(group)]
        return next(iter(enough or known[-1:]), (None, reaches[-1]))

    def _price(self, tap_type: int) -> float | None:
        kind = self._session.get(TapType, tap_type)
        return None if kind is None or kind.unit_cost is None else float(kind.unit_cost)

    def _costs(self, price: float | None, group: GroupLife | None) -> tuple[float, float]:
        """Cost of a change in time and of a failure, the latter by how often each mode was seen."""
        settings = self._settings
        planned = (settings.default_tap_cost if price is None else price) + settings.change_cost
        breaks = group.failures_by(Mode.BREAK) if group else 0
        wears = group.failures_by(Mode.WEAR) if group else 0
        # Before anything failed the dearer mode is assumed: it is what the shop fears.
        share = breaks / (breaks + wears) if breaks + wears else 1.0
        return planned, planned + share * settings.break_cost + (1 - share) * settings.wear_cost


def _is_enough(group: GroupLife) -> bool:
    """Whether a group stands alone; else it leans on a wider one."""
    return isinstance(group.both, WeibullFit) and group.evidence.failures >= FEWEST_FAILURES


def _group(situation: Situation, gathered: Gathered, level: float) -> GroupLife:
    lives, both, modes = _fitted(tuple(gathered.observations), level)
    evidence = replace(lives.evidence, taps=gathered.lives)
    return GroupLife(situation, lives, both, modes, evidence)


@lru_cache(maxsize=_FITS_KEPT)
def _fitted(observations: tuple[Observation, ...], level: float) -> tuple[Lives, LifeResult, dict[str, LifeResult]]:
    """Fits by the data they rest on: a new run refits only the groups that it changes."""
    lives = Lives.of(
        [o.lower for o in observations],
        [math.inf if o.upper is None else o.upper for o in observations],
        entry=[o.entry for o in observations],
        mode=["" if o.mode is None else o.mode.value for o in observations],
    )
    modes = fit_modes(lives, level, modes=[mode.value for mode in Mode])
    return lives, fit_weibull(lives, level), modes
