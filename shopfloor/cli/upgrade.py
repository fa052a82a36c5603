"""`shopfloor upgrade`."""

from __future__ import annotations

import click

from shopfloor.cli.options import database_option, settings_for
from shopfloor.settings import Settings
from shopfloor.store.upgrade import upgrade


@click.command("upgrade")
@database_option
def command(database: str | None) -> None:
    """Bring the database to this version's schema (back it up first)."""
    settings = settings_for(database)
    if settings.database == Settings.database:
        settings.data_folder.mkdir(parents=True, exist_ok=True)
    upgrade(settings.database)
    click.echo("The database is up to date.")
