"""What to start with if the log holds too few failures: what is usual for such taps, at round ages.

With fewer than `FEWEST_FAILURES` in the whole log no change is advised and no saving promised. The probabilities come
from the posterior, which then is mostly the prior.
"""

from __future__ import annotations

from dataclasses import dataclass

from shopfloor.core.decision.replacement_age import FEWEST_FAILURES
from shopfloor.core.life_table.round_ages import round_ages
from shopfloor.core.survival.estimates import Estimate
from shopfloor.services.advice.life_book import Advice

_REACH = 2.0
"""How far the probabilities reach, as a multiple of the suggested age."""


@dataclass(frozen=True)
class StartRow:
    """Chance that a fresh tap has failed by one age, in holes."""

    age: float
    failed: Estimate


@dataclass(frozen=True)
class CarefulStart:
    """The age to start with, in holes, and the probabilities behind it.

    Attributes
    ----------
    age                 None where no change in time is suggested
    failures, enough    in the log, and how many would be enough for advice from the log
    rows                at round ages, to twice the age
    """

    age: int | None
    failures: int
    enough: int
    rows: tuple[StartRow, ...]
    level: float


def careful_start(advice: Advice | None) -> CarefulStart | None:
    """What the advice starts with; None if the log holds enough failures, or no life at all."""
    start = None if advice is None else advice.start
    if advice is None or start is None:
        return None
    age = None if start.age is None else max(1, round(start.age))
    ages = [float(one) for one in round_ages(_REACH * (age or start.holes_per_tap))]
    rows = zip(ages, advice.failed_by(ages), strict=True)
    told = tuple(StartRow(one, failed) for one, failed in rows)
    return CarefulStart(age, advice.failures, FEWEST_FAILURES, told, advice.level)
