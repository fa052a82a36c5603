"""`shopfloor serve`."""

from __future__ import annotations

import os
import socket
import ssl
import threading
import webbrowser
from pathlib import Path

import click
from flask import Flask
from waitress import create_server

from shopfloor.app import create_app
from shopfloor.cli.options import database_option, open_work, settings_for
from shopfloor.cli.tls import TlsFront, read_certificate
from shopfloor.core.errors import InputError
from shopfloor.services.pooled import read_ahead
from shopfloor.web.limits import LARGEST_BODY

LOOPBACK = "127.0.0.1"
_BUFFERED = 16 * LARGEST_BODY
"""Bytes up to which the application itself answers that a body is too large, in words; beyond, the server cuts off."""


def port_option(function: click.decorators.FC) -> click.decorators.FC:
    """Add `--port N`."""
    return click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True)(function)


@click.command("serve")
@port_option
@click.option(
    "--host", default=LOOPBACK, show_default=True, help="Address to listen on; 0.0.0.0 for the shop's network."
)
@click.option("--certificate", type=click.Path(path_type=Path), help="Serve https with this certificate (PEM) ...")
@click.option("--key", type=click.Path(path_type=Path), help="... and its key; deploy/HTTPS.md says how to make both.")
@database_option
def command(port: int, host: str, certificate: Path | None, key: Path | None, database: str | None) -> None:
    """Serve the shop's own log."""
    if (certificate is None) != (key is None):
        raise InputError.of("certificate", "only one of --certificate and --key is given", "give both, or none")
    context = None if certificate is None or key is None else read_certificate(certificate, key)
    must_be_free(host, port)
    with open_work(settings_for(database), makes=True) as work:
        click.echo("Reading what the log tells; a large one takes some seconds ...")
        read_ahead(work)
        if context is None:
            run_server(create_app(work), host, port)
        else:
            run_https(create_app(work), host, port, context)


def run_server(app: Flask, host: str, port: int, *, open_browser: bool = False) -> None:
    """Serve until interrupted; with a browser window on it where wanted.

    Raises
    ------
    InputError    the port is taken
    """
    must_be_free(host, port)
    server = create_server(app, host=host, port=port, threads=4, max_request_body_size=_BUFFERED)
    address = f"http://{host}:{port}/"
    click.echo(f"Open {address} in a browser. Ctrl-C ends.")
    if open_browser:
        # In a thread of its own: the browser asks for the page while the server below begins to answer.
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    try:
        server.run()
    except KeyboardInterrupt:
        click.echo("Stopped.")
    finally:
        server.close()


def run_https(app: Flask, host: str, port: int, context: ssl.SSLContext) -> None:
    """Serve over https until interrupted.

    Raises
    ------
    InputError    the port is taken
    """
    must_be_free(host, port)
    app.config.update(SESSION_COOKIE_SECURE=True)
    server = create_server(app, host=LOOPBACK, port=0, threads=4, max_request_body_size=_BUFFERED, url_scheme="https")
    front = TlsFront(context, host, port, server.effective_port)
    app.wsgi_app = front.tell_clients(app.wsgi_app)  # type: ignore[assignment]
    front.start()
    click.echo(f"Open https://NAME:{port}/ in a browser, by the name in the certificate. Ctrl-C ends.")
    try:
        server.run()
    except KeyboardInterrupt:
        click.echo("Stopped.")
    finally:
        front.close()
        server.close()


def must_be_free(host: str, port: int) -> None:
    """Refuse a port that another program listens on.

    Raises
    ------
    InputError    the port is taken
    """
    with socket.socket() as probe:
        if os.name == "posix":
            # As the server does: a port that was just let go of is free. On Windows the option would mean sharing it.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            what = f"{port} on {host} cannot be used ({error.strerror})"
            raise InputError.of("port", what, "choose another with --port") from None
