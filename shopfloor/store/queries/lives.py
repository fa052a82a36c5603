"""Observations of tap lives as the core reads them, gathered by situation."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.lives import Observation
from shopfloor.store import LifeStretch, Tap


@dataclass(frozen=True)
class Situation:
    """What a tap is used on: its type, the material, the speed band; None where all of them are taken together."""

    tap_type: int
    material: int | None = None
    speed_band: str | None = None

    def widened(self) -> tuple[Situation, ...]:
        """The situation, then ever wider ones: any speed, any material."""
        wider = (self, Situation(self.tap_type, self.material), Situation(self.tap_type))
        return tuple(dict.fromkeys(wider))


@dataclass
class Gathered:
    """Observations of one situation, and how many tap lives they come from."""

    observations: list[Observation] = field(default_factory=list)
    lives: int = 0
    _last_life: tuple[int, int] | None = None

    def add(self, life: tuple[int, int], observation: Observation) -> None:
        """Take one stretch of a life; it joins the one before where both are one piece of the same life."""
        if life != self._last_life:
            self.lives, self._last_life = self.lives + 1, life
        elif self.observations[-1].upper is None and self.observations[-1].lower >= observation.entry:
            before = self.observations.pop()
            observation = Observation(before.entry, observation.lower, observation.upper, observation.mode)
        self.observations.append(observation)


def gather(session: Session, tap_types: Collection[int] | None = None) -> dict[Situation, Gathered]:
    """Every usable observation by its exact situation and by the wider ones."""
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
        )
        .join(Tap, Tap.id == LifeStretch.tap_id)
        .where(LifeStretch.lower.is_not(None))
        .order_by(LifeStretch.tap_id, LifeStretch.number, LifeStretch.ordinal)
    )
    if tap_types is not None:
        query = query.where(Tap.tap_type_id.in_(tap_types))
    found: dict[Situation, Gathered] = {}
    for tap_type, tap, number, material, band, entry, lower, upper, mode in session.execute(query):
        observation = Observation(entry or 0, lower or 0, upper, mode)
        for situation in Situation(tap_type, material, band).widened():
            found.setdefault(situation, Gathered()).add((tap, number), observation)
    return found
