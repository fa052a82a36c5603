"""A network between a browser and a server that can be taken away, for browsers that cannot do so themselves."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress
from socketserver import BaseRequestHandler, ThreadingTCPServer
from types import TracebackType
from typing import Self
from urllib.parse import urlsplit


class Relay(ThreadingTCPServer):
    """Hands on what it gets at `address` to the server and back; once cut it closes every connection at once."""

    daemon_threads = True

    def __init__(self, server: str) -> None:
        super().__init__(("127.0.0.1", 0), _Connection)
        self._goal = urlsplit(server)
        self._open: set[socket.socket] | None = set()
        self._lock = threading.Lock()

    @property
    def address(self) -> str:
        """Where a browser finds the server."""
        return f"http://127.0.0.1:{self.server_address[1]}"

    def __enter__(self) -> Self:
        threading.Thread(target=self.serve_forever, daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.cut()
        self.shutdown()
        self.server_close()

    def cut(self) -> None:
        """No network any more."""
        with self._lock:
            ends, self._open = self._open, None
        for end in ends or ():
            end_of(end)

    def restore(self) -> None:
        """The network is back."""
        with self._lock:
            self._open = set()

    def joins(self, near: socket.socket) -> socket.socket | None:
        """The way to the server for what came from the browser, or none."""
        with self._lock:
            if self._open is None:
                return None
            far = socket.create_connection((self._goal.hostname, self._goal.port))
            self._open |= {near, far}
            return far


class _Connection(BaseRequestHandler):
    """One connection of the browser's."""

    server: Relay

    def handle(self) -> None:
        """Hand on both ways until one side ends."""
        far = self.server.joins(self.request)
        if far is None:
            return
        with far:
            back = threading.Thread(target=hand_on, args=(far, self.request), daemon=True)
            back.start()
            hand_on(self.request, far)
            back.join()


def hand_on(source: socket.socket, goal: socket.socket) -> None:
    """Everything from one end to the other, until there is no more."""
    with suppress(OSError):
        while data := source.recv(65_536):
            goal.sendall(data)
    for end in (source, goal):
        end_of(end)


def end_of(end: socket.socket) -> None:
    """Let nobody wait at this end any more."""
    with suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
