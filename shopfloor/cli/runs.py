"""`shopfloor runs import` and `shopfloor runs export`."""

from __future__ import annotations

import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TextIO

import click

from shopfloor.cli.options import database_option, open_work, settings_for, show_progress
from shopfloor.core.errors import InputError
from shopfloor.core.phrases import counted
from shopfloor.services.runs.csv_columns import COLUMNS, REQUIRED
from shopfloor.services.runs.csv_export import export_runs
from shopfloor.services.runs.csv_import import import_runs


@click.group("runs")
def command() -> None:
    """Runs in and out as CSV."""


_OPTIONAL = ", ".join(names[0] for field, names in COLUMNS.items() if field not in REQUIRED)


@command.command(
    "import",
    help=f"""Store the runs of FILE, all or none; the same file twice is stored once.

Columns that must be there: {", ".join(COLUMNS[field][0] for field in REQUIRED)}.

Columns that may be there: {_OPTIONAL}.""",
)
@click.argument("file", type=click.Path(path_type=Path))
@database_option
def import_(file: Path, database: str | None) -> None:
    """Store the runs of a file."""
    with open_work(settings_for(database), makes=True) as work:
        try:
            done = import_runs(work, file, show_progress("Rows"))
        except InputError:
            click.echo(
                "Nothing was stored. 'Columns of an import' under the tool's Help tells what each may hold.", err=True
            )
            raise
    before = counted(done.seen_before, "was", "were")
    click.echo(f"Stored {counted(done.stored, 'run')}; {before} there already.")
    for kind, codes in done.created.items():
        click.echo(click.wrap_text(f"New {kind} ({len(codes)}): {', '.join(codes)}", subsequent_indent="  "))


@command.command("export")
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="File to write; else standard output.")
@database_option
def export(output: Path | None, database: str | None) -> None:
    """Write every run that counts as CSV, in the form that import reads.

    Gauge checks, stock movements, prices and job plans are not in it: it is no backup.
    """
    with open_work(settings_for(database)) as work, _writable(output) as out:
        number = export_runs(work, out)
    click.echo(f"Wrote {counted(number, 'run')}.", err=True)


def _writable(path: Path | None) -> AbstractContextManager[TextIO]:
    if path is None:
        return nullcontext(sys.stdout)
    try:
        return path.open("w", encoding="utf-8", newline="")
    except OSError as error:
        raise InputError.of("output", f"'{path}' cannot be written ({error.strerror})", "name another file") from None
