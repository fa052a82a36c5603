"""`shopfloor restore`."""

from __future__ import annotations

from pathlib import Path

import click

from shopfloor.cli.options import database_option, settings_for
from shopfloor.cli.passphrase import passphrase_from, passphrase_options
from shopfloor.services.upkeep.restoring import restore
from shopfloor.store.upgrade import head


@click.command("restore")
@click.argument("from_", metavar="FROM", type=click.Path(path_type=Path))
@passphrase_options
@database_option
def command(from_: Path, asks: bool, passphrase_file: Path | None, database: str | None) -> None:
    """Bring a backup back into a database and a folder of photographs that are empty.

    Each table is compared with what was backed up. A secret key that is there already stays if it is equal.
    """
    settings = settings_for(database)
    passphrase = passphrase_from(settings, asks=asks, file=passphrase_file, confirms=False)
    manifest = restore(from_, settings, passphrase)
    click.echo(f"Restored the shop as of {manifest.made_at}; all {len(manifest.tables)} tables are equal.")
    if manifest.schema != head():
        click.echo("It is of an older version. Run: shopfloor upgrade")
