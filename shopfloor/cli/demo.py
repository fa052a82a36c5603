"""`shopfloor demo`."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from seed.load import load
from seed.simulate import simulate
from shopfloor.app import create_app
from shopfloor.cli.options import database_option, settings_for, show_progress
from shopfloor.cli.serve import LOOPBACK, port_option, run_server
from shopfloor.core.errors import InputError
from shopfloor.services.work import Work
from shopfloor.settings import Settings
from shopfloor.store.upgrade import is_empty, upgrade


@click.command("demo")
@port_option
@click.option("--no-serve", is_flag=True, help="Only make the database.")
@database_option
def command(port: int, no_serve: bool, database: str | None) -> None:
    """Make a fresh demo database and serve it: an invented shop, 18 months of work up to today."""
    settings = settings_for(database, is_demo=True)
    if database is None:
        settings = settings_for(_fresh_file(settings), is_demo=True)
    click.echo("Making the demo shop: 18 months of tapping, up to today ...")
    work = make_demo(settings)
    click.echo(f"Database: {work.engine.url.render_as_string()}")
    if not no_serve:
        run_server(create_app(work), LOOPBACK, port)


def make_demo(settings: Settings) -> Work:
    """The demo shop in an empty database.

    Raises
    ------
    InputError    the database holds something: a shop's record is never overwritten
    """
    work = Work.on(settings)
    if not is_empty(work.engine):
        address = work.engine.url.render_as_string()
        raise InputError.of("database", f"{address} is not empty", "name one that does not exist yet")
    upgrade(settings.database)
    load(work, simulate(datetime.now(UTC)), show_progress("Taps"))
    return work


def _fresh_file(settings: Settings) -> str:
    """Address of the demo's own file, after removing the last demo; the shop's own database is never touched."""
    folder = settings.data_folder / "demo"
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("demo.db*"):
        old.unlink()
    return f"sqlite:///{(Path(folder) / 'demo.db').as_posix()}"
