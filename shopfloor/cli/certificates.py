"""`shopfloor certificates`."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from shopfloor.cli.authority import AUTHORITY_DAYS, SERVER_DAYS, Host, make


@click.command(
    "certificates",
    help=f"""Make certificates for https on a shop's network.

NAME is what tablets call the server (such as tapping-pc.shop.internal), ADDRESS each of its fixed IP addresses. The
first time, this makes a certificate authority limited to these names that lasts {AUTHORITY_DAYS // 365} years; every
time it makes a new server certificate that lasts {SERVER_DAYS} days. deploy/HTTPS.md says the rest.""",
)
@click.argument("name")
@click.argument("address", nargs=-1)
@click.option(
    "--folder",
    type=click.Path(path_type=Path),
    default=Path("instance/https"),
    show_default=True,
    help="Output folder.",
)
def command(name: str, address: tuple[str, ...], folder: Path) -> None:
    """Make the certificates and say what to do with each file."""
    made = make(Host.named(name, address), folder, datetime.now(UTC))
    click.echo(f"Tablets install  {folder / 'shop-ca.crt'}")
    click.echo(f"  fingerprint    {made.fingerprint} (SHA-256)")
    click.echo(f"The server uses  --certificate {folder / 'server.crt'} --key {folder / 'server.key'}")
    click.echo(f"Lock away        {folder / 'shop-ca.key'}")
    click.echo(f"Renew before     {made.ends_at:%Y-%m-%d}, with the same command")
