"""Limits on how long pages wait for PostgreSQL.

The server's own limits are no use if the server itself hangs, so the waiting is limited here.

Only engines made `for_pages` give up; commands wait. After no answer all requests are refused at once for a while, so
that pages fail in words within seconds instead of piling up.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Generator
from typing import Any, TypeVar

import psycopg
from sqlalchemy import Engine, event

ANSWER_S = 10
"""A statement without any answer for this long is abandoned, along with its connection."""

CONNECT_S = 3
LOCK_S = 6
"""How long to wait for another transaction's lock; a tablet waits 8 seconds for an answer."""

REST_S = 2
"""So long after a server did not answer nobody asks it again: all get their refusal at once, but for one a turn."""

Answer = TypeVar("Answer")


class NoAnswer(psycopg.OperationalError):
    """The server took too long."""


class _Rest:
    """Circuit breaker: whether to query the server, or to leave it alone after it did not answer."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asks_again_at: float | None = None

    def must_be_over(self) -> None:
        """After the server did not answer, let one request try now and then; refuse all others."""
        with self._lock:
            if self._asks_again_at is None:
                return
            if time.monotonic() < self._asks_again_at:
                raise NoAnswer("it did not answer a moment ago")
            self._asks_again_at = time.monotonic() + CONNECT_S + REST_S

    def begin(self) -> None:
        """The server did not answer."""
        with self._lock:
            self._asks_again_at = time.monotonic() + REST_S

    def end(self) -> None:
        """The server answers."""
        with self._lock:
            self._asks_again_at = None


class _Connection(psycopg.Connection[Any]):
    """A connection that is closed if the server does not respond."""

    rest = _Rest()

    def wait(self, gen: Generator[Any, Any, Answer], *args: Any, **kwargs: Any) -> Answer:
        """Wait for the result, as long as the server responds."""
        try:
            return super().wait(_bounded(gen), *args, **kwargs)
        except NoAnswer:
            self.rest.begin()
            self.close()
            raise


def wait_not_too_long(engine: Engine) -> None:
    """Let every connection of the engine give up after a while."""
    rest = _Rest()

    @event.listens_for(engine, "do_connect")
    def connect(dialect: Any, record: Any, args: Any, kwargs: dict[str, Any]) -> _Connection:
        rest.must_be_over()
        options = f"{kwargs.pop('options', '')} -c lock_timeout={LOCK_S * 1000}".strip()
        try:
            made = _Connection.connect(*args, **{"connect_timeout": CONNECT_S, **kwargs}, options=options)
        except psycopg.errors.ConnectionTimeout:
            rest.begin()
            raise
        made.rest = rest
        rest.end()
        return made


def _bounded(asked: Generator[Any, Any, Answer]) -> Generator[Any, Any, Answer]:
    """What the driver asks of the socket, which it is told each tenth of a second; it fails where nothing comes."""
    try:
        wanted, heard_at = next(asked), time.monotonic()
        while True:
            ready = yield wanted
            if ready:
                heard_at = time.monotonic()
            elif time.monotonic() - heard_at > ANSWER_S:
                raise NoAnswer(f"nothing was heard for {ANSWER_S} s")
            wanted = asked.send(ready)
    except StopIteration as end:
        answer: Answer = end.value
        return answer
