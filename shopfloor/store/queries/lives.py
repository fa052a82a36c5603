"""Observations of tap lives as the core reads them, gathered by cutting conditions."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.floor.thread_length import ThreadCut
from shopfloor.store import LifeStretch, Tap, TapLife


@dataclass
class Gathered:
    """Observations under the same cutting conditions, and the number of lives that they come from."""

    observations: list[Observation] = field(default_factory=list)
    lives: int = 0
    _last_life: tuple[int, int] | None = None

    def add(self, life: tuple[int, int], observation: Observation) -> None:
        """Add one stretch of a life; it is merged with the one before if the two are contiguous."""
        if life != self._last_life:
            self.lives, self._last_life = self.lives + 1, life
        elif self.observations[-1].upper is None and self.observations[-1].lower >= observation.entry:
            before = self.observations.pop()
            observation = Observation(before.entry, observation.lower, observation.upper, observation.mode)
        self.observations.append(observation)


@dataclass(frozen=True)
class Lengths:
    """How to convert ages of one tap type to length of thread: its usual depth, and the length that counts as one."""

    usual_mm: float
    one_mm: float

    def age_of(self, stretches: Iterable[Any]) -> Callable[[float], float]:
        """A function from holes of a life to its measure, by its stretches (`start`, `end`, `depth_mm`).

        Holes of unstated depth count as usual.
        """
        told = ((one.start, one.end, (one.depth_mm or self.usual_mm) / self.one_mm) for one in stretches)
        return ThreadCut(told, self.usual_mm / self.one_mm).at


def are_at_most(session: Session, lives: int) -> bool:
    """Whether the log holds at most so many lives; it counts no further."""
    some = select(TapLife.tap_id).limit(lives + 1).subquery()
    return (session.scalar(select(func.count()).select_from(some)) or 0) <= lives


Stretches = tuple[Any, ...]
"""Rows of one tap type as `stretch_rows` reads them, life by life."""


def stretch_rows(session: Session, tap_types: Collection[int]) -> dict[int, Stretches]:
    """The stretches of lives by tap type; equal for equal logs."""
    query = (
        select(
            Tap.tap_type_id,
            LifeStretch.tap_id,
            LifeStretch.number,
            LifeStretch.material_id,
            LifeStretch.speed_band,
            LifeStretch.entry,
            LifeStretch.lower,
            LifeStretch.upper,
            LifeStretch.mode,
            LifeStretch.start,
            LifeStretch.end,
            LifeStretch.depth_mm,
        )
        .join(Tap, Tap.id == LifeStretch.tap_id)
        .where(Tap.tap_type_id.in_(tap_types))
        .order_by(Tap.tap_type_id, LifeStretch.tap_id, LifeStretch.number, LifeStretch.ordinal)
    )
    rows = session.execute(query)
    return {tap_type: tuple(of_type) for tap_type, of_type in groupby(rows, key=itemgetter(0))}


def gather(stretches: Stretches, lengths: Lengths | None = None) -> dict[CuttingConditions, Gathered]:
    """Every usable observation of a tap type by its exact conditions and by wider ones; in holes without lengths."""
    found: dict[CuttingConditions, Gathered] = {}
    for life, rows in groupby(stretches, key=lambda row: (row.tap_id, row.number)):
        of_life = list(rows)
        age = float if lengths is None else lengths.age_of(of_life)
        for row in of_life:
            if row.lower is not None:
                upper = None if row.upper is None else age(row.upper)
                observation = Observation(age(row.entry or 0), age(row.lower), upper, row.mode)
                exact = CuttingConditions(row.tap_type_id, row.material_id, row.speed_band)
                for cutting in exact.widened():
                    found.setdefault(cutting, Gathered()).add(life, observation)
    return found
