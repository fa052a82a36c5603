"""What a tap was used on, and the lives spent on it: the data of the pooled posterior."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopfloor.core.observations import FloatArray, Lives
from shopfloor.core.vocabulary import IsoGroup

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Condition:
    """What a stretch of holes has in common, as far as it drives life.

    Attributes
    ----------
    family       taps that are alike: one tap type
    material     the material's name
    iso_group    its group by ISO 513, None where unknown
    speed        surface speed in m/min, None where unknown
    traits       further things that may matter, as (what, which): ('hole', 'blind'), ('regrinds', '1')
    """

    family: str
    material: str
    iso_group: IsoGroup | None = None
    speed: float | None = None
    traits: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Use:
    """Consecutive holes of one life under one condition (its place in the list of conditions)."""

    condition: int
    holes: float


@dataclass(frozen=True)
class History:
    """One life with the conditions that it was spent on.

    Attributes
    ----------
    uses         from the age when first followed, in order; at least one
    lower, upper, entry, mode
                 as in `Lives`, in holes: `upper` infinite where it has not failed, `mode` empty then
    """

    uses: tuple[Use, ...]
    lower: float
    upper: float
    entry: float = 0.0
    mode: str = ""


@dataclass(frozen=True, eq=False)
class Histories:
    """Many lives as arrays: those under one condition as they are, those over several with their exposures.

    Attributes
    ----------
    lives        every life, the plain ones first
    condition    of each life, shape (n,): the one it was last used in
    mixed        shape (m, 3, c): for the last m lives, holes in each condition up to `lower`, `upper` and `entry`;
                 an infinite `upper` counts as `lower`
    """

    lives: Lives
    condition: IntArray
    mixed: FloatArray

    @classmethod
    def plain(cls, lives: Lives, condition: ArrayLike, conditions: int) -> Histories:
        """Lives that were each spent under one condition."""
        return cls(lives, np.asarray(condition, np.int64), np.zeros((0, 3, conditions)))

    @classmethod
    def of(cls, histories: Iterable[History], conditions: int) -> Histories:
        """Lives with their uses, in any order; neighbouring uses of one condition count as one.

        Raises
        ------
        InputError    as `Lives.of`
        """
        told = sorted(histories, key=lambda history: len({use.condition for use in history.uses}) > 1)
        lives = Lives.of(
            [one.lower for one in told], [one.upper for one in told], [one.entry for one in told],
            [one.mode for one in told],
        )  # fmt: skip
        mixed = [one for one in told if len({use.condition for use in one.uses}) > 1]
        exposures = [[_holes_until(one, age, conditions) for age in _ages(one)] for one in mixed]
        last = np.array([one.uses[-1].condition for one in told], np.int64)
        return cls(lives, last, np.array(exposures, float).reshape(len(mixed), 3, conditions))

    @property
    def is_mixed(self) -> NDArray[np.bool_]:
        """Which lives were spent over several conditions."""
        return np.arange(len(self.lives)) >= len(self.lives) - len(self.mixed)


def _ages(history: History) -> tuple[float, float, float]:
    upper = history.upper if math.isfinite(history.upper) else history.lower
    return history.lower, upper, history.entry


def _holes_until(history: History, age: float, conditions: int) -> list[float]:
    """Holes in each condition up to an age; those before the entry in the first use, those after the last in it."""
    holes = [0.0] * conditions
    holes[history.uses[0].condition] += min(age, history.entry)
    reached = history.entry
    for use, is_last in zip(history.uses, _last(history.uses), strict=True):
        until = age if is_last else min(age, reached + use.holes)
        holes[use.condition] += max(until - reached, 0.0)
        reached = max(reached, until)
    return holes


def _last(uses: Sequence[Use]) -> list[bool]:
    return [False] * (len(uses) - 1) + [True]
