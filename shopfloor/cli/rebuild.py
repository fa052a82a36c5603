"""`shopfloor rebuild`."""

from __future__ import annotations

import click

from shopfloor.cli.options import database_option, open_work, settings_for, show_progress
from shopfloor.core.phrases import counted
from shopfloor.services.record.life_summaries import rebuild


@click.command("rebuild")
@database_option
def command(database: str | None) -> None:
    """Recalculate all tap lives from the log."""
    with open_work(settings_for(database)) as work:
        taps = rebuild(work, show_progress("Taps"))
    click.echo(f"Worked out the lives of {counted(taps, 'tap')}.")
