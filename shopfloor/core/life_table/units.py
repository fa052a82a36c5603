"""Life tables in holes or in length of thread, whichever a shop measures life in."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

import numpy as np

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.floor.thread_length import middle_depth
from shopfloor.core.input.reader import shown
from shopfloor.core.life_table.read import GroupedLives
from shopfloor.core.survival.censored_data import FloatArray, Lives
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import LifeMeasure


@dataclass(frozen=True, eq=False)
class CountedLives:
    """Lives in a unit of age, and in the holes that the posterior is stated in.

    Attributes
    ----------
    lives      ages in `unit`
    in_holes   ages in holes; for length of thread, in holes of the usual depth of the tap type
    each       length of one such hole in `unit`, for each condition of the table; 1 where the unit is holes
    """

    unit: AgeUnit
    lives: Lives
    in_holes: Lives
    each: tuple[float, ...]


def counted_lives(table: GroupedLives, measure: LifeMeasure) -> CountedLives:
    """The lives of a table in the shop's measure of life.

    Each hole counts by its depth; holes of unknown depth count as usual for their tap type. A hole of usual depth
    remains the unit of the posterior, whose prior is stated in holes.

    Raises
    ------
    InputError    length of thread is wanted, and no row of a tap type has a depth
    """
    if measure is LifeMeasure.HOLES:
        return CountedLives(AgeUnit.HOLES, table.lives, table.lives, (1.0,) * len(table.conditions))
    usual_mm = _usual_mm(table)
    usual_of_life = usual_mm[table.place]
    depth_mm = np.where(np.isnan(table.depth_mm), usual_of_life, table.depth_mm)
    unit = AgeUnit.METRES
    return CountedLives(
        unit,
        _times(table.lives, depth_mm / unit.mm),
        _times(table.lives, depth_mm / usual_of_life),
        tuple(usual_mm / unit.mm),
    )


def _usual_mm(table: GroupedLives) -> FloatArray:
    """Usual depth of the tap type of each condition, in mm."""
    lives = table.lives
    followed = (np.where(lives.is_failure, lives.upper, lives.lower) - lives.entry) * lives.count
    made: defaultdict[str, Counter[float]] = defaultdict(Counter)
    for place, depth, holes in zip(table.place, table.depth_mm, followed, strict=True):
        if not np.isnan(depth):
            made[table.conditions[place].family][float(depth)] += holes
    unknown = {condition.family for condition in table.conditions} - made.keys()
    if unknown:
        remedy = "give the depth of thread in mm in at least one row, or count in holes"
        raise InputError([Problem("depth", _nobody_tells(name), remedy) for name in sorted(unknown)])
    usual = {family: middle_depth(depths) for family, depths in made.items()}
    return np.array([usual[condition.family] for condition in table.conditions])


def _nobody_tells(tap_type: str) -> str:
    return f"no row of tap type {shown(tap_type)} tells it" if tap_type else "no row tells it"


def _times(lives: Lives, factor: FloatArray) -> Lives:
    return Lives(lives.lower * factor, lives.upper * factor, lives.entry * factor, lives.mode, lives.count)
