"""Health check: whether an entry could be stored right now.

A query would also succeed on a full or read-only disk, so a row is written: that of `alembic_version`, unchanged.
"""

from __future__ import annotations

import logging
import threading
import time
from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from shopfloor.services.record.work import Work, reason_of
from shopfloor.store.upgrade import takes_entries

EVERY_S = 2
"""More frequent requests get the last result, so that polling cannot wear out the disk."""

_OTHERS_WAIT_S = 2

_log = logging.getLogger(__name__)


@dataclass
class _Found:
    """The last result, and when it was obtained."""

    is_ready: bool = False
    at: float = float("-inf")
    looking: threading.Lock = field(default_factory=threading.Lock)


_found: WeakKeyDictionary[Engine, _Found] = WeakKeyDictionary()


def is_ready(work: Work) -> bool:
    """Whether a row of this version's schema can be written and committed; tried every few seconds at most."""
    found = _found.setdefault(work.engine, _Found())
    if not found.looking.acquire(timeout=_OTHERS_WAIT_S):
        return False  # the thread that is checking has no result yet
    try:
        if time.monotonic() - found.at >= EVERY_S:
            found.is_ready = _takes_entries(work)
            found.at = time.monotonic()
        return found.is_ready
    finally:
        found.looking.release()


def _takes_entries(work: Work) -> bool:
    try:
        return takes_entries(work.engine)
    except SQLAlchemyError as error:
        _log.error("not ready: %s", reason_of(error))
        return False
