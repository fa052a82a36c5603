"""Conditions of use, and the lives observed under them: the data of the hierarchical model.

A life over several conditions uses up life in each at that condition's rate (cumulative exposure), so it is kept whole
here; only for the curve of a single condition is it split where conditions change (`floor.tap_lives`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.vocabulary import IsoGroup

IntArray = NDArray[np.int64]


class Trait(str, Enum):
    """Further covariates of a hole or a tap; `SPEED_BAND` only where the power law of speed cannot place the band.

    A reamed hole counts as reamed, however it was opened.
    """

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
    """Covariates that a run of holes has in common: everything the model lets life depend on.

    Attributes
    ----------
    family       taps that are alike: one tap type
    material     name of the material
    iso_group    its group by ISO 513, None where unknown
    speed        surface speed in m/min, None where unknown
    traits       further covariates as (which, value), such as (Trait.HOLE, 'blind'); each at most once
    """

    family: str
    material: str
    iso_group: IsoGroup | None = None
    speed: float | None = None
    traits: Traits = ()

    @property
    def group(self) -> Condition:
        """The condition without traits of hole and tap: taps of one type in one material at one speed."""
        return replace(self, traits=tuple(one for one in self.traits if one[0] is Trait.SPEED_BAND))

    @property
    def plain(self) -> list[Any]:
        """The same in plain values that JSON can hold."""
        iso = None if self.iso_group is None else self.iso_group.value
        return [self.family, self.material, iso, self.speed, [[what.value, which] for what, which in self.traits]]

    @classmethod
    def of_plain(cls, told: Sequence[Any]) -> Condition:
        """The condition whose `plain` values these are."""
        family, material, iso, speed, traits = told
        known = tuple((Trait(what), which) for what, which in traits)
        return cls(family, material, IsoGroup.of(iso), speed, known)


@dataclass(frozen=True)
class Use:
    """Consecutive holes of one life under one condition, given by its index in the list of conditions."""

    condition: int
    holes: float


@dataclass(frozen=True)
class History:
    """One life with the conditions under which it was used.

    Attributes
    ----------
    uses         in order from the age at which the tap was first followed; at least one
    lower, upper, entry, mode
                 as in `Lives`, in holes: `upper` is infinite and `mode` empty where the tap has not failed
    """

    uses: tuple[Use, ...]
    lower: float
    upper: float
    entry: float = 0.0
    mode: str = ""

    def uses_between(self, start: float, end: float) -> Iterator[tuple[Use, float, float]]:
        """The uses between two ages (from the entry on), each with the ages at which it began and ended there."""
        reached = self.entry
        for use, is_last in zip(self.uses, _last(self.uses), strict=True):
            until = end if is_last else min(end, reached + use.holes)
            if until > max(reached, start):
                yield use, max(reached, start), until
            reached = max(reached, until)

    def holes_until(self, age: float) -> Iterator[tuple[int, float]]:
        """Conditions and holes made in them up to an age.

        Holes before the entry count in the first use, holes after the last use in the last one.
        """
        yield self.uses[0].condition, min(age, self.entry)
        for use, start, end in self.uses_between(self.entry, age):
            yield use.condition, end - start


@dataclass(frozen=True, eq=False)
class Histories:
    """Many lives as arrays: lives under one condition first, then lives over several with their exposures.

    Attributes
    ----------
    lives              every life, those under one condition first
    condition          shape (n,): the condition each life was last used in
    among              shape (m, d): for the last m lives, the conditions each was used in, the last one first; where
                       there are fewer than d, the last one is repeated
    mixed_holes        shape (m, 3, d): their holes in each of these up to `lower`, `upper` and `entry`; for an infinite
                       `upper` those up to `lower`
    mixed_histories    those last m lives with their uses
    """

    lives: Lives
    condition: IntArray
    among: IntArray
    mixed_holes: FloatArray
    mixed_histories: tuple[History, ...] = ()

    @classmethod
    def plain(cls, lives: Lives, condition: ArrayLike) -> Histories:
        """Lives that were each used under one condition, given by its index."""
        return cls(lives, np.asarray(condition, np.int64), np.zeros((0, 1), np.int64), np.zeros((0, 3, 1)))

    @classmethod
    def of(cls, histories: Iterable[History]) -> Histories:
        """Lives with their uses, in any order; repeated uses of one condition add up.

        Raises
        ------
        InputError    as `Lives.of`
        """
        ordered = sorted(histories, key=lambda history: len({use.condition for use in history.uses}) > 1)
        lives = Lives.of(
            [one.lower for one in ordered], [one.upper for one in ordered], [one.entry for one in ordered],
            [one.mode for one in ordered],
        )  # fmt: skip
        mixed = [one for one in ordered if len({use.condition for use in one.uses}) > 1]
        used = [tuple(dict.fromkeys(use.condition for use in reversed(one.uses))) for one in mixed]
        most = max(map(len, used), default=1)
        among = [[*where, *[where[0]] * (most - len(where))] for where in used]
        exposures = [
            [_holes_until(one, age, where, most) for age in _ages(one)]
            for one, where in zip(mixed, used, strict=True)
        ]  # fmt: skip
        last = np.array([one.uses[-1].condition for one in ordered], np.int64)
        return cls(
            lives, last, np.array(among, np.int64).reshape(len(mixed), most),
            np.array(exposures, float).reshape(len(mixed), 3, most), tuple(mixed),
        )  # fmt: skip

    @property
    def is_mixed(self) -> NDArray[np.bool_]:
        """Mask of the lives that were used under several conditions."""
        return np.arange(len(self.lives)) >= len(self.lives) - len(self.mixed_holes)


def _ages(history: History) -> tuple[float, float, float]:
    upper = history.upper if math.isfinite(history.upper) else history.lower
    return history.lower, upper, history.entry


def _holes_until(history: History, age: float, where: Sequence[int], room: int) -> list[float]:
    """Holes in each of these conditions up to an age."""
    place = {condition: i for i, condition in enumerate(where)}
    holes = [0.0] * room
    for condition, made in history.holes_until(age):
        holes[place[condition]] += made
    return holes


def _last(uses: Sequence[Use]) -> list[bool]:
    return [False] * (len(uses) - 1) + [True]
