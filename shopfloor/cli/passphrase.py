"""The passphrase of a backup: typed without being shown, or from a file; never on the command line."""

from __future__ import annotations

from pathlib import Path

import click

from shopfloor.cli.options import AnyFunction
from shopfloor.services.upkeep.passphrases import passphrase_in
from shopfloor.settings import Settings


def passphrase_options(function: AnyFunction) -> AnyFunction:
    """Add `--passphrase` and `--passphrase-file FILE`."""
    asked = click.option("--passphrase", "asks", is_flag=True, help="Ask for the passphrase of the backup.")
    named = click.option(
        "--passphrase-file",
        type=click.Path(path_type=Path),
        help="File whose first line is the passphrase; default: SHOPFLOOR_BACKUP_PASSPHRASE_FILE.",
    )
    return named(asked(function))


def passphrase_from(settings: Settings, *, asks: bool, file: Path | None, confirms: bool) -> bytes | None:
    """The passphrase that the options and settings lead to; None: there is none."""
    if asks:
        typed: str = click.prompt("Passphrase", hide_input=True, confirmation_prompt=confirms)
        return typed.strip().encode("utf-8")
    return passphrase_in(str(file) if file else settings.backup_passphrase_file)
