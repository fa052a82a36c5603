"""`shopfloor runs import` and `shopfloor runs export`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from shopfloor.cli.options import database_option, open_work, settings_for, show_progress
from shopfloor.core.errors import InputError
from shopfloor.core.phrases import counted
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_columns import COLUMNS, REQUIRED
from shopfloor.services.runs.csv_export import export_runs, export_workbook
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.services.spreadsheets import WORKBOOK


@click.group("runs")
def command() -> None:
    """Runs in and out as CSV or as a workbook (.xlsx)."""


_OPTIONAL = ", ".join(names[0] for field, names in COLUMNS.items() if field not in REQUIRED)


@command.command(
    "import",
    help=f"""Store the runs of FILE, all or none; importing the same file twice stores it once.

FILE is CSV (UTF-8, any separator) or the first sheet of a workbook (.xlsx).

Required columns: {", ".join(COLUMNS[field][0] for field in REQUIRED)}.

Optional columns: {_OPTIONAL}.""",
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
                "Nothing was stored. 'Columns of an import' in the tool's Help says what each may hold.", err=True
            )
            raise
    before = counted(done.seen_before, "was", "were")
    click.echo(f"Stored {counted(done.stored, 'run')}; {before} already there.")
    for kind, codes in done.created.items():
        click.echo(click.wrap_text(f"New {kind} ({len(codes)}): {', '.join(codes)}", subsequent_indent="  "))


@command.command("export")
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File to write (.csv, .xlsx); default: standard output.",
)
@database_option
def export(output: Path | None, database: str | None) -> None:
    """Write every run that counts, as CSV or as a workbook, in the form that import reads.

    Gauge checks, stock movements, prices and job plans are left out: this is not a backup.
    """
    with open_work(settings_for(database)) as work:
        number = export_runs(work, sys.stdout) if output is None else write_runs(work, output)
    click.echo(f"Wrote {counted(number, 'run')}.", err=True)


def write_runs(work: Work, path: Path) -> int:
    """Write every run that counts into a file, a workbook or CSV by its name; how many there were."""
    try:
        if path.suffix.casefold() == WORKBOOK:
            with path.open("wb") as book:
                return export_workbook(work, book)
        with path.open("w", encoding="utf-8", newline="") as text:
            return export_runs(work, text)
    except OSError as error:
        raise InputError.of("output", f"'{path}' cannot be written ({error.strerror})", "name another file") from None
