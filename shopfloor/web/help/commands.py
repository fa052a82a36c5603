"""The commands of `shopfloor` for the handbook: what each is for, and its help text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from flask import Flask, current_app

from shopfloor.core.phrases import phrase

_KEY = "shopfloor commands"

PURPOSES = {
    "demo": phrase("Make a new demo shop and serve it."),
    "serve": phrase("Serve the shop's own log."),
    "upgrade": phrase("Bring the database up to this version, or back to before; list codes that look alike."),
    "backup": phrase("Back up database, photographs and secret key into one file, while the server runs."),
    "restore": phrase("Bring a backup back into an empty database."),
    "move": phrase("Bring a shop from SQLite to PostgreSQL, compared table by table."),
    "rebuild": phrase("Recalculate everything that is derived from the log."),
    "estimate": phrase("Work out all estimates from the log, for the pages to answer from."),
    "life": phrase("How long taps live, from a table of lives."),
    "rate": phrase("Breaks per 1,000 holes with an exact interval."),
    "runs import": phrase("Bring in a file of runs."),
    "runs export": phrase("Write every run out in the form of an import."),
    "people supervisor": phrase("Make somebody a supervisor."),
    "people pin": phrase("Give somebody a new PIN or password."),
    "people pins": phrase("Turn PINs on or off."),
    "certificates": phrase("Make or renew the certificates for https."),
    "thread": phrase("Dimensions, limits and tap drills of a standard thread."),
    "setup": phrase("The set-up card of a thread in a hole."),
}
"""By the words typed after `shopfloor`."""


@dataclass(frozen=True)
class Command:
    """A command: the words typed after `shopfloor`, and what its `--help` prints."""

    name: str
    help: str

    @property
    def purpose(self) -> str:
        """What it is for, in the language of the page."""
        return PURPOSES[self.name]


Commands = Callable[[], Sequence[Command]]


def bind_commands(app: Flask, told: Commands) -> None:
    """Give an application the commands of the program that serves it, for its pages."""
    app.extensions[_KEY] = told


def commands() -> Sequence[Command]:
    """The commands of the program that serves this page."""
    told: Commands = current_app.extensions[_KEY]
    return told()
