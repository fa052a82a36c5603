"""`shopfloor serve`."""

from __future__ import annotations

import os
import socket
import ssl
import threading
import webbrowser
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import click
from flask import Flask

from shopfloor.app import create_app
from shopfloor.cli.estimator_process import estimating
from shopfloor.cli.handbook import commands
from shopfloor.cli.log_lines import written_in_lines
from shopfloor.cli.options import database_option, open_work, settings_for
from shopfloor.cli.server import Server, serve_until_told
from shopfloor.cli.tls import TlsFront, names_in, read_certificate
from shopfloor.core.errors import InputError
from shopfloor.services.record.work import Work
from shopfloor.services.upkeep.timer import backups_by_the_clock
from shopfloor.web.security.hosts import served_names

LOOPBACK = "127.0.0.1"


def port_option(function: click.decorators.FC) -> click.decorators.FC:
    """Add `--port N`."""
    return click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True)(function)


def estimator_option(function: click.decorators.FC) -> click.decorators.FC:
    """Add `--estimator/--no-estimator`."""
    return click.option(
        "--estimator/--no-estimator",
        default=True,
        help="Work out estimates in a process beside the server; not where shopfloor estimate --follow does.",
    )(function)


@click.command("serve")
@port_option
@click.option(
    "--host", default=LOOPBACK, show_default=True, help="Address to listen on; 0.0.0.0 for the shop's network."
)
@click.option("--certificate", type=click.Path(path_type=Path), help="Serve https with this certificate (PEM) ...")
@click.option("--key", type=click.Path(path_type=Path), help="... and its key; shopfloor certificates makes both.")
@estimator_option
@database_option
def command(
    port: int, host: str, certificate: Path | None, key: Path | None, estimator: bool, database: str | None
) -> None:
    """Serve the shop's own log."""
    if (certificate is None) != (key is None):
        raise InputError.of("certificate", "only one of --certificate and --key is given", "give both, or neither")
    context = None if certificate is None or key is None else read_certificate(certificate, key)
    must_be_free(host, port)
    settings = settings_for(database)
    with (
        written_in_lines(settings.log_folder),
        open_work(settings, makes=True, for_pages=True) as work,
        estimating(settings) if estimator else nullcontext(),
        backups_by_the_clock(work),
    ):
        if certificate is None or context is None:
            run_server(create_app(work, commands), host, port)
        else:
            run_https(create_app(_known_as(work, names_in(certificate)), commands), host, port, context)


def run_server(app: Flask, host: str, port: int, *, open_browser: bool = False) -> None:
    """Serve until interrupted; if wanted, open a browser window on it.

    Raises
    ------
    InputError    the port is taken
    """
    must_be_free(host, port)
    server = Server(app, host, port)
    address = f"http://{host}:{port}/"
    _say_where(app, address)
    if open_browser:
        # In a thread of its own: the browser asks for the page while the server below begins to answer.
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    serve_until_told(server)
    click.echo("Stopped.")


def run_https(app: Flask, host: str, port: int, context: ssl.SSLContext) -> None:
    """Serve over https until interrupted.

    Raises
    ------
    InputError    the port is taken
    """
    must_be_free(host, port)
    app.config.update(SESSION_COOKIE_SECURE=True)
    server = Server(app, LOOPBACK, 0, scheme="https")
    front = TlsFront(context, host, port, server.port)
    app.wsgi_app = front.tell_clients(app.wsgi_app)  # type: ignore[assignment]
    front.start()
    _say_where(app, f"https://NAME:{port}/")
    try:
        serve_until_told(server)
    finally:
        front.close()
    click.echo("Stopped.")


def _known_as(work: Work, names: Sequence[str]) -> Work:
    """The work of a server that is known by these names as well."""
    listed = ",".join([work.settings.hosts, *names])
    return replace(work, settings=replace(work.settings, hosts=listed))


def _say_where(app: Flask, address: str) -> None:
    click.echo(f"Open {address} in a browser. Ctrl-C ends.")
    names = ", ".join(served_names(app))
    click.echo(f"Served under this computer's own addresses and the names {names}; SHOPFLOOR_HOSTS adds others.")


def must_be_free(host: str, port: int) -> None:
    """Refuse a port that another program listens on.

    Raises
    ------
    InputError    the port is taken
    """
    with socket.socket() as probe:
        if os.name == "posix":
            # As the server does: a port that was just released is free. On Windows the option would mean sharing it.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            what = f"{port} on {host} cannot be used ({error.strerror})"
            raise InputError.of("port", what, "choose another with --port") from None
