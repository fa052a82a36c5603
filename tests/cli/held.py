"""Connections that stand still in every way there is."""

from __future__ import annotations

import socket

HELD = 300
HEAD = b"POST /sync/runs HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"


def in_the_head(connection: socket.socket) -> None:
    """A request whose head does not end."""
    connection.sendall(HEAD + b"X-Slow: ")


def in_the_body(connection: socket.socket) -> None:
    """A request whose body does not end."""
    connection.sendall(HEAD + b'Content-Length: 500\r\n\r\n{"id":')


def between_requests(connection: socket.socket) -> None:
    """A connection that is kept after an answer."""
    connection.sendall(b"GET /sync/clock HTTP/1.1\r\nHost: localhost\r\n\r\n")
    assert connection.recv(9).startswith(b"HTTP/1.1")


def before_any_request(connection: socket.socket) -> None:
    """A connection on which nothing is asked for."""


WAYS = [in_the_head, in_the_body, between_requests, before_any_request]
