"""The crib's pages, collected for the application."""

from __future__ import annotations

from shopfloor.web.crib import checks, in_use, labels, movements, receiving, shelves, taps
from shopfloor.web.crib.blueprint import blueprint

__all__ = ["blueprint", "checks", "in_use", "labels", "movements", "receiving", "shelves", "taps"]
