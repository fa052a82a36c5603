"""Limits on how long anybody waits for PostgreSQL.

The server's own limits are no use if the server itself hangs, so the waiting is limited here too. Pages give up within
5 seconds: after no answer all requests are refused at once for a while, so that pages fail in words instead of piling
up. Commands wait much longer, but not for ever.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any, TypeVar

import psycopg
from sqlalchemy import Engine, event


@dataclass(frozen=True)
class Patience:
    """How many seconds to wait for what.

    Parameters
    ----------
    connect    for a connection
    lock       for another transaction's lock
    statement  for a statement that the server works on; 0: without end
    answer     for any sign of life; then the server is taken to hang, and the connection is given up
    """

    connect: float
    lock: float
    statement: float
    answer: float


PAGES = Patience(connect=3, lock=3, statement=3.5, answer=4)
"""Less for a lock or a statement than for an answer: a server that says that it is busy does not hang."""

COMMANDS = Patience(connect=10, lock=600, statement=0, answer=3600)
"""A migration or a rebuild of a large log may take minutes for one statement."""

REST_S = 2
"""So long after a server did not answer nobody asks it again: all get their refusal at once, but for one a turn."""

_FORGOTTEN_MS = 60_000
"""The server ends a page's transaction that nobody has gone on with for so long: its machine is gone."""

_ALIVE = {"keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3, "tcp_user_timeout": 25_000}
"""A server's machine that is gone is noticed within 25 seconds even by a command, which would wait much longer."""

Answer = TypeVar("Answer")


class NoAnswer(psycopg.OperationalError):
    """The server took too long."""


class _Rest:
    """Circuit breaker: whether to query the server, or to leave it alone after it did not answer."""

    def __init__(self, turn_s: float) -> None:
        self._lock = threading.Lock()
        self._turn_s = turn_s
        self._asks_again_at: float | None = None

    def must_be_over(self) -> None:
        """After the server did not answer, let one request try now and then; refuse all others."""
        with self._lock:
            if self._asks_again_at is None:
                return
            if time.monotonic() < self._asks_again_at:
                raise NoAnswer("it did not answer a moment ago")
            self._asks_again_at = time.monotonic() + self._turn_s

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

    rest: _Rest | None = None
    answer_s = COMMANDS.answer

    def wait(self, gen: Generator[Any, Any, Answer], *args: Any, **kwargs: Any) -> Answer:
        """Wait for the result, as long as the server responds."""
        try:
            return super().wait(_bounded(gen, self.answer_s), *args, **kwargs)
        except NoAnswer:
            if self.rest is not None:
                self.rest.begin()
            self.close()
            raise


def wait_not_too_long(engine: Engine, patience: Patience, *, rests: bool) -> None:
    """Let every connection of the engine give up after a while.

    Parameters
    ----------
    engine      of a PostgreSQL database
    patience    how long to wait for what
    rests       whether to refuse everybody at once for a while after the server did not answer
    """
    rest = _Rest(patience.connect + REST_S) if rests else None

    @event.listens_for(engine, "do_connect")
    def connect(dialect: Any, record: Any, args: Any, kwargs: dict[str, Any]) -> _Connection:
        if rest is not None:
            rest.must_be_over()
        options = f"{kwargs.pop('options', '')} {_limits(patience, is_page=rests)}".strip()
        given = {"connect_timeout": round(patience.connect), **_ALIVE, **kwargs, "options": options}
        try:
            made = _Connection.connect(*args, **given)
        except psycopg.errors.ConnectionTimeout:
            if rest is not None:
                rest.begin()
            raise
        made.answer_s = patience.answer
        if rest is not None:
            made.rest = rest
            rest.end()
        return made


def _limits(patience: Patience, *, is_page: bool) -> str:
    """The limits that the server itself keeps, as options of a connection, in milliseconds."""
    kept = {"lock_timeout": round(patience.lock * 1000), "statement_timeout": round(patience.statement * 1000)}
    if is_page:
        kept["idle_in_transaction_session_timeout"] = _FORGOTTEN_MS
    return " ".join(f"-c {name}={value}" for name, value in kept.items())


def _bounded(asked: Generator[Any, Any, Answer], answer_s: float) -> Generator[Any, Any, Answer]:
    """What the driver asks of the socket, which it is told each tenth of a second; it fails where nothing comes."""
    try:
        wanted, heard_at = next(asked), time.monotonic()
        while True:
            ready = yield wanted
            if ready:
                heard_at = time.monotonic()
            elif time.monotonic() - heard_at > answer_s:
                raise NoAnswer(f"nothing was heard for {answer_s:g} s")
            wanted = asked.send(ready)
    except StopIteration as end:
        answer: Answer = end.value
        return answer
