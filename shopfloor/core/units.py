"""Conversions between the shop's units; the core itself is metric."""

from __future__ import annotations

MM_PER_INCH = 25.4
"""Exact since 1959 (ISO 80000-3)."""
