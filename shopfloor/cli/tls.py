"""https in front of the server: accepts encrypted connections and passes on what they say, byte by byte."""

from __future__ import annotations

import asyncio
import ssl
import threading
from collections.abc import Iterable
from concurrent.futures import Future
from pathlib import Path
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from shopfloor.core.errors import InputError

_CHUNK = 65_536
_HANDSHAKE_S, _CLOSING_S = 10, 5


def read_certificate(certificate: Path, key: Path) -> ssl.SSLContext:
    """How to encrypt with this certificate.

    Raises
    ------
    InputError    a file that is missing, or a key that does not belong to the certificate
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key)
    except OSError as error:  # ssl's own errors are OSErrors, too
        what = f"{certificate} and {key} cannot be used ({error})"
        raise InputError.of(
            "certificate", what, "make them with shopfloor certificates, as deploy/HTTPS.md says"
        ) from None
    return context


def names_in(certificate: Path) -> tuple[str, ...]:
    """The names and addresses that the certificate is good for; none if it lists no subject alternative names."""
    from cryptography import x509  # slow to load, and only https needs it

    try:
        extensions = x509.load_pem_x509_certificate(certificate.read_bytes()).extensions
        named = extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, x509.ExtensionNotFound):
        return ()
    return (*named.get_values_for_type(x509.DNSName), *map(str, named.get_values_for_type(x509.IPAddress)))


class TlsFront:
    """Listens for https on `host` and `port`, and talks plainly to the server on a port of this computer."""

    def __init__(self, context: ssl.SSLContext, host: str, port: int, inner_port: int) -> None:
        self._context, self._host, self._port, self._inner_port = context, host, port, inner_port
        self._listening: Future[tuple[asyncio.AbstractEventLoop, asyncio.Event, int]] = Future()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._clients: dict[str, str] = {}
        """Address of each client, by our port of its connection to the server."""
        self._carriers: set[asyncio.Task[None] | None] = set()

    def start(self) -> int:
        """Listen in a thread of its own; returns the port."""
        self._thread.start()
        return self._listening.result()[2]

    def tell_clients(self, application: WSGIApplication) -> WSGIApplication:
        """The application, given the client's address in place of our own."""

        def told(environment: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
            client = self._clients.get(str(environment.get("REMOTE_PORT")))
            return application({**environment, "REMOTE_ADDR": client} if client else environment, start)

        return told

    def close(self) -> None:
        """Accept no more connections, pass on the server's last answers, and end."""
        loop, is_over, _ = self._listening.result()
        loop.call_soon_threadsafe(is_over.set)
        self._thread.join(timeout=10)

    def _run(self) -> None:
        try:
            asyncio.run(self._listen())
        except OSError as error:
            self._listening.set_exception(error)

    async def _listen(self) -> None:
        loop, is_over = asyncio.get_running_loop(), asyncio.Event()
        # A port scanner, or a tablet that does not trust the certificate, hangs up; that is not worth a log line.
        loop.set_exception_handler(lambda loop, context: None)
        limits = {"ssl_handshake_timeout": _HANDSHAKE_S, "ssl_shutdown_timeout": _CLOSING_S}
        server = await asyncio.start_server(self._serve, self._host, self._port, ssl=self._context, **limits)
        self._listening.set_result((loop, is_over, int(server.sockets[0].getsockname()[1])))
        await is_over.wait()
        server.close()
        if self._carriers:
            await asyncio.wait([task for task in self._carriers if task], timeout=_CLOSING_S)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        self._carriers.add(task)
        try:
            inner_reader, inner_writer = await asyncio.open_connection("127.0.0.1", self._inner_port)
            port = str(inner_writer.get_extra_info("sockname")[1])
            self._clients[port] = writer.get_extra_info("peername")[0]
            try:
                await asyncio.gather(_carry(reader, inner_writer), _carry(inner_reader, writer))
            finally:
                del self._clients[port]
        finally:
            writer.close()
            self._carriers.discard(task)


async def _carry(source: asyncio.StreamReader, goal: asyncio.StreamWriter) -> None:
    try:
        while chunk := await source.read(_CHUNK):
            goal.write(chunk)
            await goal.drain()
    except OSError:
        pass  # one side has hung up; closing tells the other
    finally:
        goal.close()
