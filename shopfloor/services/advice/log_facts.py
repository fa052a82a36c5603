"""What a state of the log says in plain values: how much it holds, and what most holes were like."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Lubricant
from shopfloor.store.queries.histories import CatalogueFacts, UseRow


@dataclass(frozen=True)
class LogFacts:
    """What a state of the log says in plain values.

    Attributes
    ----------
    lives, failures    in the log, as far as they can be used
    usual_depths       depth of thread in mm of each tap type, if lives are measured in length of thread
    usual_holes        what most holes were like under each of the cutting conditions, their depth apart
    catalogue          what was known then of materials and tap types
    one_mm             length of thread in mm that counts as one in the lives by cutting conditions
    """

    lives: int
    failures: int
    usual_depths: Mapping[int, float]
    usual_holes: Mapping[CuttingConditions, HoleConditions]
    catalogue: CatalogueFacts
    one_mm: float

    @classmethod
    def of(
        cls, rows: Sequence[UseRow], usual_depths: Mapping[int, float], catalogue: CatalogueFacts, one_mm: float
    ) -> LogFacts:
        """The facts of a log with these stretches of lives."""
        lives = {(row.tap, row.number): row.mode for row in rows}
        failures = sum(mode is not None for mode in lives.values())
        return cls(len(lives), failures, usual_depths, _usual_holes(rows), catalogue, one_mm)

    @property
    def plain(self) -> dict[str, Any]:
        """The same in plain values that JSON can hold."""
        return {
            "lives": self.lives,
            "failures": self.failures,
            "usual_depths": list(self.usual_depths.items()),
            "usual_holes": [
                [*plain_cutting(cutting), *_plain_hole(hole)] for cutting, hole in self.usual_holes.items()
            ],
            "iso_groups": [[key, group and group.value] for key, group in self.catalogue.iso_groups],
            "coatings": self.catalogue.coatings,
            "one_mm": self.one_mm,
        }

    @classmethod
    def of_plain(cls, told: Mapping[str, Any]) -> LogFacts:
        """The facts whose `plain` values these are."""
        iso_groups = tuple((key, IsoGroup.of(group)) for key, group in told["iso_groups"])
        return cls(
            told["lives"],
            told["failures"],
            dict(told["usual_depths"]),
            {CuttingConditions(*one[:3]): _hole(*one[3:]) for one in told["usual_holes"]},
            CatalogueFacts(iso_groups, tuple((key, coating) for key, coating in told["coatings"])),
            told["one_mm"],
        )


NOTHING = LogFacts(0, 0, {}, {}, CatalogueFacts((), ()), 1.0)
"""The facts where nothing has been worked out."""


def plain_cutting(cutting: CuttingConditions) -> list[Any]:
    """Cutting conditions in plain values."""
    return [cutting.tap_type, cutting.material, cutting.speed_band]


def _usual_holes(rows: Sequence[UseRow]) -> dict[CuttingConditions, HoleConditions]:
    one_of: dict[tuple[object, ...], UseRow] = {}
    made: Counter[tuple[object, ...]] = Counter()
    for row in rows:
        one_of.setdefault(row.kind, row)
        made[row.kind] += round(row.end - row.start)
    found: defaultdict[CuttingConditions, Counter[HoleConditions]] = defaultdict(Counter)
    for kind, row in one_of.items():
        found[row.cutting][row.hole] += made[kind]
    return {cutting: holes.most_common(1)[0][0] for cutting, holes in found.items()}


def _plain_hole(hole: HoleConditions) -> list[Any]:
    return [hole.is_blind, hole.making and hole.making.value, hole.lubricant and hole.lubricant.value]


def _hole(is_blind: bool | None, making: str | None, lubricant: str | None) -> HoleConditions:
    return HoleConditions(is_blind, HoleMaking.of(making), Lubricant.of(lubricant))
