"""A server that stays open whoever holds connections, and that ends in order."""

from __future__ import annotations

import json
import signal
import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from shopfloor.cli import server as serving_module
from shopfloor.cli.server import Server
from tests.cli.held import HEAD, HELD, WAYS, before_any_request, in_the_body, in_the_head
from tests.cli.serving import LINE, LONG_S, Serving, run, serving
from tests.factories import open_shop


@pytest.fixture
def shop_url(sqlite_url: str, tmp_path: Path) -> str:
    """Address of the small shop."""
    open_shop(sqlite_url, tmp_path).work.close()
    return sqlite_url


def with_an_answer(connection: socket.socket) -> None:
    """A request for a large answer of which nothing is taken."""
    connection.sendall(b"GET /new HTTP/1.1\r\nHost: localhost\r\n\r\n" * 20)


@pytest.mark.parametrize("stop_short", WAYS)
def test_held_connections_keep_nobody_out(
    stop_short: Callable[[socket.socket], None], shop_url: str, tmp_path: Path
) -> None:
    """300 that stand still in their head, their body, or between requests: health is told and a run is stored."""
    with serving(shop_url, tmp_path) as server, ExitStack() as held:
        for _ in range(HELD):
            stop_short(held.enter_context(server.connect()))
        assert 200 == server.ask("/healthz")[0]
        assert 201 == server.ask("/sync/runs", run())[0]


def large_answer(environment: Any, start: Any) -> list[bytes]:
    """An application whose every answer has 4 MB."""
    start("200 OK", [("Content-Length", "4000000")])
    return [b"x" * 4_000_000]


def begun(server: Server) -> threading.Thread:
    """The thread in which a server of this process runs."""
    thread = threading.Thread(target=server.run)
    thread.start()
    return thread


@contextmanager
def small_server(application: Callable[[Any, Any], list[bytes]] = large_answer, capacity: int = 20) -> Iterator[Server]:
    """A server in this process with room for few connections."""
    server = Server(application, "127.0.0.1", 0)
    server.capacity = capacity
    thread = begun(server)
    try:
        yield server
    finally:
        server.stop()
        thread.join(LONG_S)
        assert not thread.is_alive()


def connected(server: Server) -> socket.socket:
    """A connection to a server of this process that takes little at once."""
    made = socket.socket()
    made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    made.settimeout(LONG_S)
    made.connect(("127.0.0.1", server.port))
    return made


def is_closed(connection: socket.socket) -> bool:
    """Whether the server closes it, if it is waited for."""
    try:
        while connection.recv(65_536):
            pass
    except ConnectionResetError:
        pass
    return True


def is_answered(server: Server) -> bool:
    """Whether a new connection gets its answer to the last byte."""
    with connected(server) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        received = 0
        while chunk := one.recv(65_536):
            received += len(chunk)
        return received > 4_000_000


@pytest.mark.parametrize("stop_short", [in_the_head, in_the_body, before_any_request, with_an_answer])
def test_where_there_are_too_many_the_oldest_goes(stop_short: Callable[[socket.socket], None]) -> None:
    """A new connection always gets in, also where all others take no answers; those closed are the first ones."""
    with small_server() as server, ExitStack() as held:
        connections = [held.enter_context(connected(server)) for _ in range(60)]
        for connection in connections:
            try:
                stop_short(connection)
            except (ConnectionResetError, BrokenPipeError):
                continue  # closed already: there were too many
        assert is_answered(server)
        assert is_closed(connections[0])


@pytest.mark.parametrize("stop_short", [in_the_head, in_the_body, before_any_request, with_an_answer])
def test_nobody_is_waited_for_without_end(
    stop_short: Callable[[socket.socket], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each kind of standstill ends by itself, be there room or not."""
    for limit in ("IDLE_S", "SILENT_S", "_TICK_S"):
        monkeypatch.setattr(serving_module, limit, 0.2)
    with small_server() as server, connected(server) as one:
        stop_short(one)
        if stop_short is with_an_answer:
            time.sleep(1)  # takes nothing meanwhile; afterwards the answers are found cut short
        assert is_closed(one)


def test_who_asks_ahead_is_answered_once() -> None:
    """A hundred requests at once get one answer and the end of the connection."""
    with small_server() as server, connected(server) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n" * 100)
        received = 0
        while chunk := one.recv(1_000_000):
            received += len(chunk)
        assert 4_000_000 < received < 8_000_000


def test_a_drop_now_and_then_is_no_progress(monkeypatch: pytest.MonkeyPatch) -> None:
    """A request that arrives byte by byte must be whole in time."""
    for limit in ("ARRIVING_S", "_TICK_S"):
        monkeypatch.setattr(serving_module, limit, 0.3)
    with small_server() as server, connected(server) as one:
        one.sendall(HEAD)
        with suppress(OSError):
            for _ in range(LONG_S * 20):
                one.sendall(b"X")
                time.sleep(0.05)
            pytest.fail("it is waited for all the same")


def test_a_request_without_end_holds_up_no_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is waited for as long as whoever stops the server is told, and no longer."""
    monkeypatch.setattr(serving_module, "DRAINING_S", 0.2)
    asked, over = threading.Event(), threading.Event()

    def application(environment: Any, start: Any) -> list[bytes]:
        asked.set()
        over.wait(LONG_S)
        start("200 OK", [("Content-Length", "0")])
        return []

    server = Server(application, "127.0.0.1", 0)
    thread = begun(server)
    with connected(server) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert asked.wait(LONG_S)
        server.stop()
        thread.join(LONG_S / 2)
        has_ended = not thread.is_alive()
        over.set()
    thread.join()
    assert has_ended


def test_what_a_proxy_says_reaches_the_application() -> None:
    """It knows the shop's own proxy; the server must not drop the word of each."""
    told: list[str | None] = []

    def application(environment: Any, start: Any) -> list[bytes]:
        told.append(environment.get("HTTP_X_FORWARDED_FOR"))
        start("200 OK", [("Content-Length", "0")])
        return []

    with small_server(application) as server, connected(server) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Forwarded-For: 192.168.1.20\r\n\r\n")
        assert one.recv(12) == b"HTTP/1.1 200"
    assert ["192.168.1.20"] == told


def stored(database: str) -> int:
    """Runs on record."""
    with closing(sqlite3.connect(database.removeprefix("sqlite:///"))) as connection:
        return int(connection.execute("SELECT COUNT(*) FROM run").fetchone()[0])


@pytest.mark.parametrize("asked", [signal.SIGTERM, signal.SIGINT])
def test_what_is_in_flight_is_answered_before_the_end(asked: signal.Signals, shop_url: str, tmp_path: Path) -> None:
    """Eight runs that wait for the record when the server is told to stop are all stored and answered; then it ends."""
    path = shop_url.removeprefix("sqlite:///")
    with serving(shop_url, tmp_path) as server, ExitStack() as opened:
        holder = opened.enter_context(closing(sqlite3.connect(path, isolation_level=None)))
        holder.execute("BEGIN IMMEDIATE")
        connections = [opened.enter_context(server.connect()) for _ in range(8)]
        idle = opened.enter_context(server.connect())
        for connection in connections:
            body = json.dumps(run()).encode()
            connection.sendall(HEAD + f"Content-Length: {len(body)}\r\n\r\n".encode() + body)
        server.process.send_signal(asked)
        await_refusal(server)
        holder.execute("COMMIT")
        answers = [connection.recv(12) for connection in connections]
        assert [b"HTTP/1.1 201"] * 8 == answers
        assert is_closed(idle)
        assert 0 == server.process.wait(LONG_S)
        assert [] == [line for line in server.lines() if not LINE.fullmatch(line)]
    assert 8 == stored(shop_url)


def await_refusal(server: Serving) -> None:
    """Wait until the server takes no more connections."""
    for _ in range(LONG_S * 20):
        try:
            server.connect().close()
        except OSError:
            return
        time.sleep(0.05)
    pytest.fail("the server still takes connections")
