"""`shopfloor backup`."""

from __future__ import annotations

from pathlib import Path

import click

from shopfloor.cli.options import database_option, settings_for
from shopfloor.cli.passphrase import passphrase_from, passphrase_options
from shopfloor.core.phrases import counted
from shopfloor.services.record.work import utc_now
from shopfloor.services.upkeep.making import back_up


@click.command("backup")
@click.argument("to", type=click.Path(path_type=Path))
@passphrase_options
@database_option
def command(to: Path, asks: bool, passphrase_file: Path | None, database: str | None) -> None:
    """Back up the shop while its server runs: database, photographs and secret key.

    TO is a new file, or a folder, in which the file is named by date and time. It is read again and compared before it
    gets its name.
    """
    settings = settings_for(database)
    passphrase = passphrase_from(settings, asks=asks, file=passphrase_file, confirms=True)
    made = back_up(settings, to, utc_now(), passphrase)
    rows = sum(content.rows for content in made.manifest.tables.values())
    click.echo(f"Backed up to {made.path}: {counted(rows, 'row')}, {size_of(made.path)}.")
    if made.manifest.missing_photographs:
        lacking = counted(made.manifest.missing_photographs, "photograph")
        click.echo(f"Warning: {lacking} on record not found on disk.", err=True)


def size_of(path: Path) -> str:
    """The size of a file in a unit that suits it."""
    size = path.stat().st_size
    return f"{size / 1e6:,.1f} MB" if size >= 1e6 else f"{size / 1e3:,.0f} kB"
