"""How many taps to stock and to order: expected use, and the reorder level that covers it.

Taps are used up one at a time and independently, so use during the lead time is close to Poisson; its mean comes from
planned holes and tap life, or from the use of recent months.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scipy.special import pdtr, pdtrik

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import rounded

COVER = 0.95
"""Share of lead times that the stock should last through. A stop for want of a tap costs more than a few taps on the
shelf. Common practice, no source."""

REVIEW_DAYS = 7
"""Days between two reviews of the order list: what is not ordered today waits that long. Common practice, no source."""

USUAL_LEAD_DAYS = 14
"""Assumed where a tap type has no lead time on record. Common practice, no source."""

LARGEST_MEAN = 1e6
"""No crib uses more taps of one type in one lead time."""


def reorder_point_poisson(mean_use: float, target: float = COVER) -> int:
    """Smallest stock that covers the use during a wait with at least the chance `target`.

    Parameters
    ----------
    mean_use : float    expected use during the wait, taps, 0 to 10^6
    target : float      between 0 and 1

    Returns
    -------
    int, taps: the smallest r with P(D <= r) >= target for D ~ Poisson(mean_use); 0 where no use is expected

    Raises
    ------
    InputError    a mean or a target out of range; names it

    References
    ----------
    E. A. Silver, D. F. Pyke & R. Peterson, Inventory Management and Production Planning and Scheduling, 3rd ed. 1998,
    chapter 7 (cycle service level); E. C. Molina, Poisson's Exponential Binomial Limit, 1942 (tables)

    Examples
    --------
    >>> reorder_point_poisson(6.0), reorder_point_poisson(0.0)
    (10, 0)
    """
    _check_use(mean_use)
    if not 0 < target < 1:
        raise InputError.of(
            "target", f"{rounded(target)} is not a share of lead times", "give a number between 0 and 1"
        )
    if mean_use == 0:
        return 0
    level = max(0, math.ceil(pdtrik(target, mean_use)))
    # The inverse, a real number, may lie a rounding error above the whole number that is enough.
    return level - 1 if level and pdtr(level - 1, mean_use) >= target else level


def chance_of_covering(stock: int, mean_use: float) -> float:
    """Chance that the use during a wait, Poisson with this mean, does not exceed the stock.

    Examples
    --------
    >>> round(chance_of_covering(10, 6.0), 4)
    0.9574
    """
    _check_use(mean_use)
    return float(pdtr(stock, mean_use)) if stock >= 0 else 0.0


def order_quantity(on_hand: int, level: int) -> int:
    """Taps to order so that stock and order together reach the level; 0 where the stock reaches it already."""
    return max(0, level - on_hand)


@dataclass(frozen=True)
class PlannedWork:
    """Holes that a job still needs from one tap type, and how many such a tap makes in that work."""

    job: str
    holes: float
    holes_per_tap: float

    @property
    def taps(self) -> float:
        """Taps that the work uses up, reground ones counted like new ones."""
        return self.holes / self.holes_per_tap


@dataclass(frozen=True)
class Need:
    """Expected use of new taps of one type until the order after the next can have arrived.

    Attributes
    ----------
    days                  lead time and days until the next review
    planned_holes         of the open jobs that are due by then
    planned_taps          lives that these holes use up
    reground_share        share of lives provided by regrinding, which need no new tap
    past_taps             new taps used in as many recent days
    past_days             days of record behind that figure
    """

    days: int
    planned_holes: float
    planned_taps: float
    reground_share: float
    past_taps: float
    past_days: int

    @property
    def planned_new_taps(self) -> float:
        """New taps that the planned jobs use up."""
        return self.planned_taps * (1 - self.reground_share)

    @property
    def is_planned(self) -> bool:
        """Whether the planned jobs need more than past use."""
        return self.planned_new_taps >= self.past_taps and self.planned_new_taps > 0

    @property
    def taps(self) -> float:
        """The larger of both: a plan is seldom complete, and past use knows nothing of a new job."""
        return max(self.planned_new_taps, self.past_taps)

    @property
    def level(self) -> int:
        """Stock that covers the need with probability `COVER`."""
        return reorder_point_poisson(self.taps)


def need(work: Iterable[PlannedWork], days: int, reground_share: float, past_taps: float, past_days: int) -> Need:
    """The need from planned work and past use over some days.

    Parameters
    ----------
    work              planned work of one tap type
    days              lead time and days until the next review
    reground_share    share of lives provided by regrinding, 0 to 1
    past_taps         new taps used in as many recent days
    past_days         days of record behind that figure
    """
    works = list(work)
    return Need(days, sum(w.holes for w in works), sum(w.taps for w in works), reground_share, past_taps, past_days)


def _check_use(mean_use: float) -> None:
    if not 0 <= mean_use <= LARGEST_MEAN:
        raise InputError.of(
            "mean_use", f"{rounded(mean_use)} is not a number of taps", f"give 0 to {LARGEST_MEAN:,.0f}"
        )
