"""`shopfloor estimate`."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType

import click

from shopfloor.cli.log_lines import written_in_lines
from shopfloor.cli.options import database_option, open_work, settings_for
from shopfloor.services.advice.estimator import follow, make_next
from shopfloor.services.record.work import Work

WITH_PARENT = "--with-parent"
_ENDING = (signal.SIGTERM, signal.SIGINT)
_GRACE_S = 2.0
"""Seconds to end in once the parent is gone; what is half worked out then is worked out again by another."""


@click.command("estimate")
@click.option("--follow", "is_following", is_flag=True, help="Keep on: work them out again whenever the log has grown.")
@click.option(WITH_PARENT, is_flag=True, hidden=True, help="End when standard input closes, as the parent ends.")
@database_option
def command(is_following: bool, with_parent: bool, database: str | None) -> None:
    """Work out all estimates from the log, for the pages to answer from."""
    with open_work(settings_for(database)) as work:
        if is_following:
            _follow(work, with_parent=with_parent)
        else:
            click.echo("Working out the estimates; for a large log this takes up to some minutes ...")
            click.echo(f"Done: generation {make_next(work, time.sleep)}.")


def _follow(work: Work, *, with_parent: bool) -> None:
    """Follow the log until told to end, leaving the processor to others that need it."""
    over = threading.Event()
    if hasattr(os, "nice"):
        os.nice(10)
    if with_parent:
        # Signals to the whole group are for the parent, which then ends this one.
        for asked in _ENDING:
            signal.signal(asked, signal.SIG_IGN)
        threading.Thread(target=_end_with_parent, args=(over,), daemon=True).start()
    else:
        click.echo("Following the log. Ctrl-C ends.")
        _on_signal(over.set)
    with written_in_lines(work.settings.log_folder, "estimate"):
        follow(work, over.wait)


def _on_signal(end: Callable[[], None]) -> None:
    """Call this when a signal from the system or the keyboard asks for an end; a second signal ends at once."""

    def told(number: int, frame: FrameType | None) -> None:
        for each in _ENDING:
            signal.signal(each, signal.SIG_DFL)
        end()

    for each in _ENDING:
        signal.signal(each, told)


def _end_with_parent(over: threading.Event) -> None:
    """End when standard input closes: the parent has asked for it, or is gone, however it went."""
    # Not through the buffer: its lock would be in the way when the interpreter ends for another reason.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    over.set()
    time.sleep(_GRACE_S)
    os._exit(0)
