"""`shopfloor demo`."""

from __future__ import annotations

import sys
from contextlib import closing
from datetime import UTC, datetime

import click

from seed.load import load
from seed.simulate import simulate
from shopfloor.app import create_app
from shopfloor.cli.estimator_process import estimating
from shopfloor.cli.handbook import commands
from shopfloor.cli.log_lines import written_in_lines
from shopfloor.cli.options import database_option, settings_for, show_progress
from shopfloor.cli.serve import LOOPBACK, must_be_free, port_option, run_server
from shopfloor.core.errors import InputError
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.quality.photographs import remove_all_files
from shopfloor.services.record.work import Work
from shopfloor.services.shop import is_demo, with_facts
from shopfloor.settings import Settings
from shopfloor.store.upgrade import downgrade, is_at_head, is_empty, upgrade


@click.command("demo")
@port_option
@click.option("--no-serve", is_flag=True, help="Make the database only.")
@database_option
def command(port: int, no_serve: bool, database: str | None) -> None:
    """Make a fresh demo database and serve it: an invented shop with 18 months of work up to today."""
    if not no_serve:
        must_be_free(LOOPBACK, port)
    settings = settings_for(database or _demo_file(settings_for(None)))
    click.echo("Making the demo shop: 18 months of tapping, up to today ...")
    with closing(Work.on(settings)) as work:
        make_demo(work)
        click.echo(f"Database: {work.engine.url.render_as_string()}")
    if not no_serve:
        with written_in_lines(), closing(Work.on(settings, for_pages=True)) as work, estimating(settings):
            app = create_app(with_facts(work), commands)
            run_server(app, LOOPBACK, port, open_browser=sys.stdout.isatty())


def make_demo(work: Work) -> None:
    """The demo shop in an empty database, or in place of an earlier demo.

    Raises
    ------
    InputError    the database holds something else: a shop's data are never overwritten
    """
    database = work.settings.database
    if not is_empty(work.engine):
        if not (is_at_head(work.engine) and is_demo(work)):
            address = work.engine.url.render_as_string()
            raise InputError.of("database", f"{address} holds something other than a demo", "name an empty one")
        remove_all_files(work)
        downgrade(database, "base")
    upgrade(database)
    load(work, simulate(datetime.now(UTC)), show_progress("Taps"))
    make_generation(work)


def _demo_file(settings: Settings) -> str:
    """Address of the demo's own file: in the shop's data folder, but never the shop's own database."""
    folder = settings.data_folder / "demo"
    folder.mkdir(parents=True, exist_ok=True)
    return f"sqlite:///{(folder / 'demo.db').as_posix()}"
