"""The command line: one small module a command."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any

import click

from shopfloor import __version__
from shopfloor.core.errors import InputError, OutdatedProgram
from shopfloor.core.phrases import counted

_COMMANDS = (
    "demo", "serve", "certificates", "upgrade", "backup", "restore", "move", "rebuild", "estimate", "life", "rate",
    "runs", "people", "thread", "setup",
)  # fmt: skip
"""Each is a module of this package with a `command`, loaded only when asked for: the mathematics is slow to load."""


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = import_module(f"shopfloor.cli.{cmd_name}").command
        return command

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as error:
            for line in report(error):
                click.echo(line, err=True)
            ctx.exit(2)
        except OutdatedProgram as error:
            click.echo(f"Error: {error}; use the version that upgraded it", err=True)
            ctx.exit(2)


_MOST_LINES = 20


def report(error: InputError) -> Sequence[str]:
    """The error in lines for the terminal: the first problems, and how many more."""
    lines = [f"Error: {problem.sentence()}" for problem in error.problems[:_MOST_LINES]]
    more = len(error.problems) - _MOST_LINES
    return [*lines, f"... and {counted(more, 'more problem')}"] if more > 0 else lines


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="shopfloor")
def main() -> None:
    """Shop-floor log and tap-life tracker: batches in, tap life and replacement advice out."""
    # A Windows console may not know every character that a note holds.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
