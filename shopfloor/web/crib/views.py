"""The crib's pages, gathered for the application."""

from __future__ import annotations

from shopfloor.web.crib import in_use, receiving, shelves, taps
from shopfloor.web.crib.blueprint import blueprint

__all__ = ["blueprint", "in_use", "receiving", "shelves", "taps"]
