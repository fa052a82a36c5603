"""Whole numbers as people type them, and what both the server and the tablet make of them."""

from __future__ import annotations

WHOLE: dict[str, int | str] = {
    "1500": 1500,
    " 48 ": 48,
    "1.500": "1500",
    "1,500": "1500",
    "1 500": "1500",
    "1\u00a0500": "1500",
    "1\u202f500": "1500",
    "1'500": "1500",
    "4.999": "4999",
    "9.500": "no",
    "1.000.000": "no",
    "1,5": "no",
    "1.5": "no",
    "12.50": "no",
    "0.500": "no",
    "1.5000": "no",
    "1.500,0": "no",
    "15OO": "no",
}
"""For a field from 1 to 5000: the number; the digits that are offered in a question; or 'no'."""
LARGEST = 5000
