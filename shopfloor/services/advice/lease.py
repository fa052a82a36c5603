"""One process at a time works out estimates, whichever machine it runs on: the one that holds the lease.

The lease is renewed while its holder lives. When the holder dies, it runs out and another takes it.
"""

from __future__ import annotations

import os
import socket
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

from shopfloor.services.record.work import UNREACHABLE, Work, tried_again
from shopfloor.store.queries.lease import give_back_lease, holding, take_lease

LASTS = timedelta(seconds=15)
"""How long nobody else takes over from a holder that died."""

_RENEWED_AT = LASTS * 2 / 3
"""It is renewed when less than this is left of it."""


class Lease:
    """A place in the queue of those that want to work out estimates of one database."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self.holder = f"{socket.gethostname()[:60]} {os.getpid()} {uuid.uuid4().hex[:8]}"

    def take(self) -> bool:
        """Take the lease, or keep it; False while somebody else holds it. Nothing is written unless it has to be."""
        now = self._work.clock()
        with self._work.read() as session:
            held = holding(session)
        if held is not None and held.holder == self.holder and held.until - now > _RENEWED_AT:
            return True
        if held is not None and held.holder != self.holder and held.until > now:
            return False
        return self._taken()

    @tried_again
    def _taken(self) -> bool:
        now = self._work.clock()
        with self._work.write() as session:
            return take_lease(session, self.holder, now, now + LASTS)

    def give_back(self) -> None:
        """Let somebody else take over at once."""
        with self._work.write() as session:
            give_back_lease(session, self.holder)

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Keep the lease during the block, however long that takes."""
        done = threading.Event()
        renewing = threading.Thread(target=self._renew_until, args=(done,), daemon=True)
        renewing.start()
        try:
            yield
        finally:
            done.set()
            renewing.join()

    def _renew_until(self, done: threading.Event) -> None:
        while not done.wait((LASTS - _RENEWED_AT).total_seconds()):
            try:
                self.take()
            except UNREACHABLE:
                continue
