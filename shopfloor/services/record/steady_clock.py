"""The clock of a server: it never goes back, whatever is done to the computer's.

A clock that is set back would put new runs before older ones of the same tap, refuse entries on tablets as lying in the
future, and make people wait an hour to log in. Here time then goes on at half its pace until the computer's clock has
caught up, over a restart too: the newest entries of the record say how late it was.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from shopfloor.services.record.work import Work, utc_now
from shopfloor.store.queries.log_mark import newest_recorded

_PACE = 0.5
"""Of the time told while the computer's clock is behind. Common practice for clocks that are ahead, no source."""

_AT_MOST = timedelta(days=1)
"""An entry later than this was made by a clock that was wrong: it says nothing of the time."""


class SteadyClock:
    """Tells the time, never earlier than it has told."""

    def __init__(
        self, told: datetime, wall: Callable[[], datetime] = utc_now, ticks: Callable[[], float] = time.monotonic
    ) -> None:
        self._wall, self._ticks = wall, ticks
        self._told, self._ticked = told, ticks()
        self._lock = threading.Lock()

    def __call__(self) -> datetime:
        """The time."""
        with self._lock:
            ticked = self._ticks()
            least = self._told + timedelta(seconds=(ticked - self._ticked) * _PACE)
            self._told, self._ticked = max(self._wall(), least), ticked
            return self._told


def with_steady_clock(work: Work) -> Work:
    """The same work, with a clock that goes on where the record is."""
    now = work.clock()
    with work.read() as session:
        newest = newest_recorded(session, now + _AT_MOST)
    return replace(work, clock=SteadyClock(max(now, newest or now), work.clock))
