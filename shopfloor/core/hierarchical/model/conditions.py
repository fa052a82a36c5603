"""What a tap was used on, and the lives spent on it: the data of the pooled posterior."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.vocabulary import IsoGroup

IntArray = NDArray[np.int64]


class Trait(str, Enum):
    """What else of a hole or a tap may matter; `SPEED_BAND` only where the speed's power law cannot place a band."""

    HOLE = "hole"
    MAKING = "hole making"
    LUBRICANT = "lubricant"
    REGRIND = "regrind"
    COATING = "coating"
    SPEED_BAND = "speed band"


REGROUND = "reground"
Traits = tuple[tuple[Trait, str], ...]


@dataclass(frozen=True)
class Condition:
    """What a stretch of holes has in common, as far as it drives life.

    Attributes
    ----------
    family       taps that are alike: one tap type
    material     the material's name
    iso_group    its group by ISO 513, None where unknown
    speed        surface speed in m/min, None where unknown
    traits       further things that may matter, as (what, which): (Trait.HOLE, 'blind'); each `what` at most once
    """

    family: str
    material: str
    iso_group: IsoGroup | None = None
    speed: float | None = None
    traits: Traits = ()

    @property
    def group(self) -> Condition:
        """The same without the hole's and the tap's own traits: taps of one type in one material at one speed."""
        return replace(self, traits=tuple(one for one in self.traits if one[0] is Trait.SPEED_BAND))


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

    def uses_between(self, start: float, end: float) -> Iterator[tuple[Use, float, float]]:
        """The uses between two ages from the entry on, with the ages at which each began and ended there."""
        reached = self.entry
        for use, is_last in zip(self.uses, _last(self.uses), strict=True):
            until = end if is_last else min(end, reached + use.holes)
            if until > max(reached, start):
                yield use, max(reached, start), until
            reached = max(reached, until)

    def spent_until(self, age: float) -> Iterator[tuple[int, float]]:
        """Conditions and holes made in them; those before the entry in the first use, those after the last in it."""
        yield self.uses[0].condition, min(age, self.entry)
        for use, start, end in self.uses_between(self.entry, age):
            yield use.condition, end - start


@dataclass(frozen=True, eq=False)
class Histories:
    """Many lives as arrays: those under one condition as they are, those over several with their exposures.

    Attributes
    ----------
    lives        every life, the plain ones first
    condition    of each life, shape (n,): the one it was last used in
    among        shape (m, d): for the last m lives, the conditions each was used in, the last one first; where there
                 are fewer than d, the last one again
    mixed        shape (m, 3, d): their holes in each of these up to `lower`, `upper` and `entry`; an infinite `upper`
                 counts as `lower`
    told         those last m lives as they were told
    """

    lives: Lives
    condition: IntArray
    among: IntArray
    mixed: FloatArray
    told: tuple[History, ...] = ()

    @classmethod
    def plain(cls, lives: Lives, condition: ArrayLike) -> Histories:
        """Lives that were each spent under one condition."""
        return cls(lives, np.asarray(condition, np.int64), np.zeros((0, 1), np.int64), np.zeros((0, 3, 1)))

    @classmethod
    def of(cls, histories: Iterable[History]) -> Histories:
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
        used = [tuple(dict.fromkeys(use.condition for use in reversed(one.uses))) for one in mixed]
        most = max(map(len, used), default=1)
        among = [[*where, *[where[0]] * (most - len(where))] for where in used]
        exposures = [
            [_holes_until(one, age, where, most) for age in _ages(one)]
            for one, where in zip(mixed, used, strict=True)
        ]  # fmt: skip
        last = np.array([one.uses[-1].condition for one in told], np.int64)
        return cls(
            lives, last, np.array(among, np.int64).reshape(len(mixed), most),
            np.array(exposures, float).reshape(len(mixed), 3, most), tuple(mixed),
        )  # fmt: skip

    @property
    def is_mixed(self) -> NDArray[np.bool_]:
        """Which lives were spent over several conditions."""
        return np.arange(len(self.lives)) >= len(self.lives) - len(self.mixed)


def _ages(history: History) -> tuple[float, float, float]:
    upper = history.upper if math.isfinite(history.upper) else history.lower
    return history.lower, upper, history.entry


def _holes_until(history: History, age: float, where: Sequence[int], room: int) -> list[float]:
    """Holes in each of these conditions up to an age."""
    place = {condition: i for i, condition in enumerate(where)}
    holes = [0.0] * room
    for condition, made in history.spent_until(age):
        holes[place[condition]] += made
    return holes


def _last(uses: Sequence[Use]) -> list[bool]:
    return [False] * (len(uses) - 1) + [True]
