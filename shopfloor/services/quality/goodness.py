"""More about lives under the same cutting conditions: goodness of fit, and how they end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.life_table.round_ages import round_ages
from shopfloor.core.survival.censored_data import Lives
from shopfloor.core.survival.cumulative_incidence import Incidence, cumulative_incidence
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import Mode
from shopfloor.core.weibull_fit.goodness_of_fit import GoodnessOfFit, goodness_of_fit
from shopfloor.services.advice.life_book import GroupLife


@dataclass(frozen=True)
class Share:
    """A share of taps with its band; the band is None before the first of them."""

    value: float
    band: tuple[float, float] | None


@dataclass(frozen=True)
class EndingRow:
    """At one age: the share of all taps still good, and the share that has failed by each mode."""

    age: float
    good: float
    failed: dict[Mode, Share]


@dataclass(frozen=True, eq=False)
class Endings:
    """How these taps end: cumulative incidence of each mode as competing risks, with values at round ages."""

    incidence: Incidence
    last_age: float
    rows: tuple[EndingRow, ...]


def judged(group: GroupLife, mode: Mode | None) -> GoodnessOfFit:
    """Goodness of fit."""
    fit = group.both if mode is None else group.modes[mode.value]
    return goodness_of_fit(group.lives if mode is None else group.lives.of_mode(mode.value), fit)


def endings(lives: Lives, level: float, unit: AgeUnit = AgeUnit.HOLES) -> Endings | None:
    """The share of taps that has broken, and that has worn, by each age; None if none has failed."""
    if not lives.failures:
        return None
    incidence = cumulative_incidence(lives, level)
    last = float(np.where(lives.is_failure, lives.upper, lives.lower).max())
    rows = tuple(_row(incidence, age) for age in round_ages(last, unit))
    return Endings(incidence, last, rows)


def _row(incidence: Incidence, age: float) -> EndingRow:
    place = int(np.searchsorted(incidence.ages, age, side="right")) - 1
    failed = {mode: _share(incidence, mode, place) for mode in Mode}
    return EndingRow(age, 1.0 if place < 0 else float(incidence.survival[place]), failed)


def _share(incidence: Incidence, mode: Mode, place: int) -> Share:
    if place < 0 or mode.value not in incidence.by_mode:
        return Share(0.0, None)
    value, low, high = (
        float(part[mode.value][place]) for part in (incidence.by_mode, incidence.lower, incidence.upper)
    )
    return Share(value, (low, high))
