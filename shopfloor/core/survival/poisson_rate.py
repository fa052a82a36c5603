"""Breaks, or cutting slips, per 1,000 holes with an exact interval."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.special import gammaincinv

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import rounded
from shopfloor.core.survival.estimates import DEFAULT_LEVEL, checked_level

MOST_COUNTED = 10**12
"""No shop makes more holes; a larger number is a typing error."""


@dataclass(frozen=True)
class Rate:
    """Events per 1,000 holes, with interval, level and evidence."""

    events: int
    holes: float
    per_1000: float
    lower: float
    upper: float
    level: float


def poisson_limits(events: int, level: float = DEFAULT_LEVEL) -> tuple[float, float]:
    """Exact (Garwood) central interval for the mean of a Poisson count.

    Parameters
    ----------
    events : int      the observed count, at least 0
    level : float     between 0 and 1, two-sided also where the count is 0

    Returns
    -------
    (lower, upper)    chi2(a/2; 2 k) / 2 and chi2(1 - a/2; 2 k + 2) / 2 with a = 1 - level; lower is 0 for k = 0

    References
    ----------
    F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442

    Examples
    --------
    >>> [round(limit, 3) for limit in poisson_limits(10, 0.95)]
    [4.795, 18.39]
    """
    tail = (1 - checked_level(level)) / 2
    lower = float(gammaincinv(events, tail)) if events else 0.0
    return lower, float(gammaincinv(events + 1, 1 - tail))


def rate_per_1000(events: float, holes: float, level: float = DEFAULT_LEVEL) -> Rate:
    """Events per 1,000 holes, with an exact Poisson interval.

    Parameters
    ----------
    events : float    breaks or slips counted, a whole number, at least 0
    holes : float     holes over which they were counted, above 0
    level : float     confidence level, between 0 and 1

    Returns
    -------
    Rate              exact Poisson interval (Garwood 1936), both ends per 1,000 holes

    Raises
    ------
    InputError        negative or fractional counts, no holes; names the argument

    References
    ----------
    Garwood 1936: see `poisson_limits`
    """
    if not (0 <= events <= MOST_COUNTED and float(events).is_integer()):
        raise InputError.of("events", f"{rounded(events)} is not a count", f"give 0, 1, 2 ... up to {MOST_COUNTED:,}")
    if not 0 < holes <= MOST_COUNTED:
        raise InputError.of(
            "holes", f"{rounded(holes)} holes give no rate", f"give a number above 0, up to {MOST_COUNTED:,}"
        )
    lower, upper = poisson_limits(int(events), level)
    return Rate(int(events), holes, 1000 * events / holes, 1000 * lower / holes, 1000 * upper / holes, level)
