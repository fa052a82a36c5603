"""The commands as the handbook page lists them, read from the commands themselves so that none is missed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import click

from shopfloor.cli import main
from shopfloor.web.help.commands import Command

_WIDTH = 80


@cache
def commands() -> Sequence[Command]:
    """Every command with what its `--help` prints."""
    return tuple(_within(main, click.Context(main, info_name="shopfloor", terminal_width=_WIDTH)))


def _within(group: click.Group, context: click.Context) -> Iterator[Command]:
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        inner = click.Context(command or group, info_name=name, parent=context)
        if isinstance(command, click.Group):
            yield from _within(command, inner)
        elif command is not None:
            yield Command(inner.command_path.partition(" ")[2], command.get_help(inner))
