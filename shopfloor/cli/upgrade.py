"""`shopfloor upgrade`."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import click

from shopfloor.cli.options import database_option, settings_for, show_progress
from shopfloor.cli.runs import write_runs
from shopfloor.core.errors import InputError
from shopfloor.core.phrases import counted
from shopfloor.services.catalogue.similar_codes import KINDS, alike
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.work import Work, utc_now
from shopfloor.services.upkeep.going_back import (
    back_up_before_upgrade,
    go_back,
    note_after_upgrade,
    recorded_since,
    way_back,
)
from shopfloor.settings import Settings
from shopfloor.store.upgrade import upgrade


@click.command("upgrade")
@click.option("--back", is_flag=True, help="Go back to the backup made before the last upgrade.")
@click.option(
    "--export",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="With --back: write all runs to this new file first (.csv, .xlsx), so that those since can be imported again.",
)
@database_option
def command(back: bool, export: Path | None, database: str | None) -> None:
    """Upgrade the database to this version's schema and recalculate all tap lives; a backup is made first."""
    settings = settings_for(database)
    if back:
        _go_back(settings, export)
        return
    if export:
        raise InputError.of("export", "it belongs to --back", "leave it out, or use shopfloor runs export")
    if settings.database == Settings.database:
        settings.data_folder.mkdir(parents=True, exist_ok=True)
    _upgrade(settings)


def _upgrade(settings: Settings) -> None:
    made = back_up_before_upgrade(settings, utc_now())
    if made:
        click.echo(f"Backed up to {made.path}.")
    upgrade(settings.database)
    with closing(Work.on(settings)) as work:
        rebuild(work, show_progress("Taps"))
        looking_alike = alike(work)
    if made:
        note_after_upgrade(settings, made)
    click.echo("The database is up to date.")
    if looking_alike:
        click.echo("These codes look like one another. A supervisor gives all but one of them another code (Set up):")
    for group in looking_alike:
        click.echo(f"  {KINDS[group.kind]}: {group.told}")


def _go_back(settings: Settings, export: Path | None) -> None:
    way = way_back(settings)
    since = recorded_since(settings, way)
    if since and export is None:
        what = f"something was recorded since the upgrade ({', '.join(since)})"
        raise InputError.of("back", what, "give --export FILE, which keeps the runs, and see the backup it names")
    if export:
        _export(settings, export)
    left = go_back(settings, way, utc_now())
    click.echo(f"The database is what it was before the upgrade; what it was until now is in {left.path}.")
    click.echo("Serve it with the version that you used before.")


def _export(settings: Settings, to: Path) -> None:
    if to.exists():
        raise InputError.of("export", f"'{to}' exists", "name a new file")
    with closing(Work.on(settings)) as work:
        click.echo(f"Wrote {counted(write_runs(work, to), 'run')} to {to}.")
