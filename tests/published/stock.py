"""Published and recomputed figures of stock-keeping, each with its source."""

from __future__ import annotations

REORDER_POINTS = [
    # mean use, target, reorder point, chance that it covers the use
    (0.5, 0.90, 1, 0.90979599),
    (0.5, 0.95, 2, 0.98561232),
    (0.5, 0.99, 3, 0.99824838),
    (1, 0.90, 2, 0.9196986),
    (1, 0.95, 3, 0.98101184),
    (1, 0.99, 4, 0.99634015),
    (2, 0.90, 4, 0.94734698),
    (2, 0.95, 5, 0.98343639),
    (2, 0.99, 6, 0.99546619),
    (3.5, 0.90, 6, 0.9347119),
    (3.5, 0.95, 7, 0.97326108),
    (3.5, 0.99, 8, 0.99012634),
    (6, 0.90, 9, 0.91607598),
    (6, 0.95, 10, 0.95737908),
    (6, 0.99, 12, 0.99117252),
    (10, 0.90, 14, 0.91654153),
    (10, 0.95, 15, 0.9512596),
    (10, 0.99, 18, 0.9928135),
    (18, 0.90, 24, 0.93173979),
    (18, 0.95, 25, 0.9553917),
    (18, 0.99, 29, 0.99405572),
]
"""Smallest r with P(D <= r) >= target. Source: cumulative Poisson tables (E. C. Molina, Poisson's Exponential Binomial
Limit, 1942); rule: E. A. Silver, D. F. Pyke & R. Peterson, Inventory Management and Production Planning and Scheduling;
recomputed with scipy.stats.poisson."""

CRITICAL_RATIOS = [
    # Poisson mean, cost of one too few, cost of one too many, best order
    (6, 9, 2, 8),
    (2.5, 40, 3, 5),
]
"""The critical-ratio rule (K. J. Arrow, T. Harris & J. Marschak, Optimal inventory policy, Econometrica 19 (1951)) on
inputs of our own: the best order is the reorder point at the target under / (under + over)."""
