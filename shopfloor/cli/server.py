"""The server of pages: waitress, with limits that leave it open whoever holds connections, and an orderly end.

Idle and stalled connections are closed; at the limit, the connection that has stalled longest is closed, so that a new
one always gets in. On shutdown, requests already received are still answered, for up to `DRAINING_S`. `tls` puts https
in front of it.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterable
from types import FrameType
from typing import Any

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from shopfloor.web.security.limits import LARGEST_BODY

THREADS = 8
"""Requests handled at once; some of them may be waiting for the database."""

IDLE_S = 60
"""Seconds without a request after which a connection is closed."""

SILENT_S = 20
"""Seconds without progress after which a request, or the fetching of an answer, is broken off."""

ARRIVING_S = 120
"""Seconds within which a request must have arrived: the largest photograph at 4 kB/s."""

DRAINING_S = 20
"""Seconds for which, at shutdown, accepted requests are still answered."""

_BUFFERED = 16 * LARGEST_BODY
"""Bytes up to which the application itself answers, in words, that a body is too large; beyond, the server refuses."""

_IN_MEMORY = 262_144
"""Bytes of a request or an answer kept in memory; more go to a temporary file."""

_LARGEST_HEAD = 32_768
_MOST_CONNECTIONS = 1000
_MOST_ON_WINDOWS = 400
"""Its `select` handles at most 512 sockets."""

_OWN_FILES, _FILES_A_CONNECTION = 150, 5
"""Open files of the program itself, and of one connection: its socket, body and answer, two sockets for https."""

_TICK_S = 0.5
_GRACE_S = 0.3
"""Seconds during which a new connection is not closed to make room."""

_WANTED_FILES = 8192


class _Channel(HTTPChannel):
    """A connection that knows since when the server has been waiting for it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.waiting_since = self.creation_time
        self.has_sent_ahead = False

    def received(self, data: bytes) -> bool:
        """Take what arrives, one request at a time: no browser asks for more before it has its answer.

        A client that does is answered once, then disconnected; otherwise a few bytes could request endless answers.
        """
        is_taken: bool = super().received(data)
        with self.requests_lock:
            if len(self.requests) > 1:
                del self.requests[1:]
                self.has_sent_ahead = True
        return is_taken

    def write_soon(self, data: Any) -> int:
        """Accept a piece of an answer; from now on the client is expected to fetch it."""
        if not self.total_outbufs_len:
            self.last_activity = time.time()
        return int(super().write_soon(data))

    def service(self) -> None:
        """Answer one request; the wait for the next one on this connection starts now."""
        try:
            super().service()
        finally:
            self.waiting_since = time.time()
            if self.has_sent_ahead:
                self.close_when_flushed = True
                self.server.pull_trigger()

    @property
    def is_at_work(self) -> bool:
        """Whether a request has arrived that is not yet fully answered."""
        return bool(self.requests or self.total_outbufs_len)

    @property
    def stands_still_since(self) -> float:
        """When the client last made progress on its request or answer; bytes trickled into a request do not count."""
        return float(self.last_activity) if self.total_outbufs_len else self.waiting_since

    def is_overdue(self, now: float) -> bool:
        """Whether the client has kept the server waiting too long."""
        silent: bool = now - self.last_activity > SILENT_S
        if self.total_outbufs_len:
            return silent
        if self.requests:
            return False
        longest = IDLE_S if self.request is None else ARRIVING_S
        return (silent and self.request is not None) or now - self.waiting_since > longest


class _Listener(TcpWSGIServer):
    """A listening socket; the server decides when to close its connections."""

    channel_class = _Channel

    def maintenance(self, now: float) -> None:
        """Nothing: waitress asks a connection to close itself, but one that never fetches its answer never does."""


class Server:
    """Serves an application until it is told to stop.

    Clients that send slowly, send nothing or never fetch their answer may hold any number of connections open: if there
    are too many, the one idle longest is closed, so that a new one always gets in.
    """

    def __init__(self, app: Callable[..., Any], host: str, port: int, *, scheme: str = "http") -> None:
        self.capacity = _capacity()
        settings = Adjustments(
            host=host,
            port=port,
            threads=THREADS,
            url_scheme=scheme,
            # Whether to believe what a proxy says is decided by the application, which knows the shop's own.
            clear_untrusted_proxy_headers=False,
            max_request_body_size=_BUFFERED,
            max_request_header_size=_LARGEST_HEAD,
            inbuf_overflow=_IN_MEMORY,
            outbuf_overflow=_IN_MEMORY,
            connection_limit=self.capacity + _OWN_FILES,
            asyncore_use_poll=True,
            log_socket_errors=False,
        )
        self._sockets: dict[int, Any] = {}
        self._workers = ThreadedTaskDispatcher()
        self._workers.set_thread_count(THREADS)
        self._listeners = [
            _Listener(app, self._sockets, dispatcher=self._workers, adj=settings, sockinfo=info)
            for info in settings.listen
        ]
        self._is_stopping = False
        self._tidied_at = 0.0

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self._listeners[0].effective_port)

    def run(self) -> None:
        """Serve until `stop`, then answer the accepted requests and end."""
        while not self._is_stopping:
            self._turn(_TICK_S)
            self._tidy()
        self._drain()
        self._workers.shutdown(timeout=1)
        self.close()

    def stop(self) -> None:
        """Accept no more connections, and end when all accepted requests are answered; safe from any thread."""
        self._is_stopping = True
        self._listeners[0].pull_trigger()

    def close(self) -> None:
        """Close everything at once."""
        wasyncore.close_all(self._sockets, ignore_all=True)

    def _turn(self, longest_s: float) -> None:
        wasyncore.loop(timeout=longest_s, use_poll=True, map=self._sockets, count=1)

    def _channels(self) -> list[_Channel]:
        return [channel for listener in self._listeners for channel in listener.active_channels.values()]

    def _tidy(self) -> None:
        """Close overdue connections and, if there are too many, those idle longest."""
        now, channels = time.time(), self._channels()
        too_many = len(channels) - self.capacity
        if too_many <= 0 and now - self._tidied_at < _TICK_S:
            return
        self._tidied_at = now
        _close(channel for channel in channels if channel.is_overdue(now))
        if too_many > 0:
            still = [one for one in channels if not one.requests and one.stands_still_since < now - _GRACE_S]
            _close(sorted(still, key=lambda one: one.stands_still_since)[:too_many])

    def _drain(self) -> None:
        for listener in self._listeners:
            _take_all_that_wait(listener)
            wasyncore.dispatcher.close(listener)
        self._turn(0)
        ends_at = time.monotonic() + DRAINING_S
        # Requests that have begun to arrive are waited for as well, as long as they make progress.
        while time.monotonic() < ends_at and (left := self._channels()):
            now = time.time()
            _close(one for one in left if one.is_overdue(now) or not (one.is_at_work or one.request))
            self._turn(0.05)


def serve_until_told(server: Server) -> None:
    """Serve until a signal from the system or the keyboard asks for an orderly end; a second signal ends at once."""
    asked = [signal.SIGTERM, signal.SIGINT, *([signal.SIGBREAK] if hasattr(signal, "SIGBREAK") else [])]
    before = {number: signal.getsignal(number) for number in asked}

    def end(number: int, frame: FrameType | None) -> None:
        for each in asked:
            signal.signal(each, signal.SIG_DFL)
        server.stop()

    for number in asked:
        signal.signal(number, end)
    try:
        server.run()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _close(channels: Iterable[_Channel]) -> None:
    for channel in channels:
        channel.handle_close()


def _take_all_that_wait(listener: _Listener) -> None:
    """Accept pending connections: to their clients, they are already established."""
    known = -1
    while known != len(listener.active_channels):
        known = len(listener.active_channels)
        listener.handle_accept()


def _capacity() -> int:
    """Connections that may be open at once, within the system's limit on open files."""
    if os.name == "nt":
        return _MOST_ON_WINDOWS
    return max(20, min(_MOST_CONNECTIONS, (_allowed_files() - _OWN_FILES) // _FILES_A_CONNECTION))


def _allowed_files() -> int:
    """Limit of this process on open files, after raising it as far as wanted and allowed."""
    import resource  # POSIX only

    allowed, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _WANTED_FILES if most == resource.RLIM_INFINITY else min(_WANTED_FILES, most)
    if allowed != resource.RLIM_INFINITY and allowed < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, most))
        return wanted
    return _WANTED_FILES if allowed == resource.RLIM_INFINITY else allowed
