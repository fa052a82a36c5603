"""Chances, and the words in which both the server and the tablet tell them."""

from __future__ import annotations

TOLD = {
    0.9: "more likely than not",
    0.51: "more likely than not",
    0.5: "1 in 2",
    0.4: "1 in 2",
    0.33: "1 in 3",
    0.083: "1 in 12",
    0.08: "1 in 12",
    0.125: "1 in 8",
    0.052: "1 in 19",
    0.05: "1 in 20",
    0.045: "1 in 20",
    0.0385: "1 in 25",
    0.0205: "1 in 50",
    0.018: "1 in 60",
    0.0123: "1 in 80",
    0.00333: "1 in 300",
    0.001: "1 in 1,000",
    0.0001: "1 in 10,000",
    0.00009: "less than 1 in 10,000",
}
INTERVALS = {
    (0.022, 0.17): "1 in 45 to 1 in 6",
    (0.2, 0.45): "1 in 5 to 1 in 2",
    (0.2, 0.6): "1 in 5 to more likely than not",
    (0.6, 0.9): "above 1 in 2",
    (0.0801, 0.0805): "1 in 12",
    (0.00001, 0.00005): "less than 1 in 10,000",
}
"""Lower and upper end."""
