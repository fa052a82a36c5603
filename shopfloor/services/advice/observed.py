"""Lives by cutting conditions, as the life pages show them: one tap type at a time, as arrays."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.packing import packed, unpacked
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.log_facts import plain_cutting
from shopfloor.services.advice.made_once import MadeOnce
from shopfloor.store.queries.lives import Lengths, Stretches, gather

BehindIt = tuple[Evidence, int]
"""Evidence, and how many of the lives ended in a break."""

_COLUMNS = ("lower", "upper", "entry", "mode", "count")


@dataclass(frozen=True, eq=False)
class Observed:
    """Lives under the same cutting conditions, and the number of taps' lives that they come from.

    A life interrupted by other work is several lives here, but one of a tap.
    """

    lives: Lives
    taps: int

    @property
    def evidence(self) -> Evidence:
        """Taps, failures, holes."""
        return replace(self.lives.evidence, taps=self.taps)

    @property
    def breaks(self) -> int:
        """How many of the lives ended in a break."""
        return int(self.lives.count[self.lives.mode == Mode.BREAK.value].sum())


@dataclass(frozen=True, eq=False)
class TypeLives:
    """The lives of one tap type by its exact conditions and by wider ones, and what was made of them."""

    found: Mapping[CuttingConditions, Observed]
    kept: MadeOnce = field(default_factory=MadeOnce)

    @property
    def packed(self) -> bytes:
        """The lives as bytes."""
        each = list(self.found.values())
        facts = [[*plain_cutting(cutting), len(one.lives), one.taps] for cutting, one in self.found.items()]
        columns = {name: [getattr(one.lives, name) for one in each] for name in _COLUMNS}
        return packed(facts, {name: np.concatenate(parts) for name, parts in columns.items()} if each else {})

    @classmethod
    def unpacked(cls, body: bytes) -> TypeLives:
        """The lives that were packed."""
        facts, columns = unpacked(body)
        found, start = {}, 0
        for *cutting, rows, taps in facts:
            part = slice(start, start + rows)
            found[CuttingConditions(*cutting)] = Observed(Lives(*(columns[name][part] for name in _COLUMNS)), taps)
            start += rows
        return cls(found)

    def in_unit(self, times: float) -> TypeLives:
        """The same lives with every age multiplied by this."""
        if times == 1.0:
            return self
        return self.kept.once(
            ("in unit", times), lambda: TypeLives({key: _aged(one, times) for key, one in self.found.items()})
        )


def _aged(one: Observed, times: float) -> Observed:
    lives = one.lives
    aged = Lives(times * lives.lower, times * lives.upper, times * lives.entry, lives.mode, lives.count)
    return Observed(aged, one.taps)


def type_lives(stretches: Stretches, lengths: Lengths | None) -> TypeLives:
    """The lives of a tap type from the stretches of its taps; in holes without lengths."""
    gathered = gather(stretches, lengths)
    return TypeLives({key: Observed(_lives(one.observations), one.lives) for key, one in gathered.items()})


def _lives(observations: Sequence[Observation]) -> Lives:
    return Lives.of(
        [o.lower for o in observations],
        [math.inf if o.upper is None else o.upper for o in observations],
        entry=[o.entry for o in observations],
        mode=["" if o.mode is None else o.mode.value for o in observations],
    )
