"""`shopfloor upgrade`."""

from __future__ import annotations

from contextlib import closing

import click

from shopfloor.cli.options import database_option, settings_for, show_progress
from shopfloor.services.catalogue.similar_codes import KINDS, alike
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store.upgrade import upgrade


@click.command("upgrade")
@database_option
def command(database: str | None) -> None:
    """Upgrade the database to this version's schema (back it up first) and recalculate all tap lives."""
    settings = settings_for(database)
    if settings.database == Settings.database:
        settings.data_folder.mkdir(parents=True, exist_ok=True)
    upgrade(settings.database)
    with closing(Work.on(settings)) as work:
        rebuild(work, show_progress("Taps"))
        looking_alike = alike(work)
    click.echo("The database is up to date.")
    if looking_alike:
        click.echo("These codes look like one another. A supervisor gives all but one of them another code (Set up):")
    for group in looking_alike:
        click.echo(f"  {KINDS[group.kind]}: {group.told}")
