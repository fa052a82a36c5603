"""`shopfloor people`: give people access from the server's own keyboard, where nobody can be locked out."""

from __future__ import annotations

import click

from shopfloor.cli.options import database_option, open_work, settings_for
from shopfloor.services.access.attempts import release
from shopfloor.services.access.credentials import give_secret, has_supervisor, make_supervisor
from shopfloor.services.access.rules import must_be_in_reach, use_pins

_ON = "on"


@click.group("people")
def command() -> None:
    """Supervisors, PINs and passwords."""


@command.command("supervisor")
@click.argument("code")
@database_option
def supervisor(code: str, database: str | None) -> None:
    """Make the person CODE a supervisor, with a new password of at least 8 characters."""
    with open_work(settings_for(database)) as work:
        make_supervisor(work, {"person": code, **_asked("Password")})
    click.echo(f"{code} is a supervisor.")


@command.command("pin")
@click.argument("code")
@database_option
def pin(code: str, database: str | None) -> None:
    """Give the person CODE a new PIN, or a new password if the role requires one; ends any wait."""
    with open_work(settings_for(database)) as work:
        name = give_secret(work, {"person": code, **_asked("PIN or password")})
        release(work, code)
    click.echo(f"{name} logs in with it from now on.")


@command.command("pins")
@click.argument("state", type=click.Choice([_ON, "off"]))
@database_option
def pins(state: str, database: str | None) -> None:
    """Turn PINs on or off, as the page 'Who gets in' does."""
    with open_work(settings_for(database)) as work:
        if state == _ON:
            must_be_in_reach(work, has_supervisor=has_supervisor(work))
        use_pins(work, is_in_use=state == _ON)
    click.echo(f"PINs are {'in use' if state == _ON else 'not in use'}.")


def _asked(what: str) -> dict[str, object]:
    """The secret, typed twice without echo; never an argument, which others could read."""
    secret = click.prompt(what, hide_input=True)
    return {"secret": secret, "again": click.prompt("Repeat it", hide_input=True)}
