"""`shopfloor rate`: events per 1,000 holes with their exact interval."""

from __future__ import annotations

import click

from shopfloor.cli.numbers import NUMBER, between, print_json, short
from shopfloor.core.phrases import counted, rounded


@click.command("rate", context_settings={"ignore_unknown_options": True})
@click.argument("events", type=NUMBER)
@click.argument("holes", type=NUMBER)
@click.option("--level", type=NUMBER, default=0.90, show_default=True, help="Level of the interval.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(events: float, holes: float, level: float, as_json: bool) -> None:
    """How often something happens per 1,000 holes: EVENTS (breaks, or cutting slips) in HOLES."""
    from shopfloor.core.survival.poisson_rate import rate_per_1000

    rate = rate_per_1000(events, holes, level)
    interval = (rate.lower, rate.upper)
    if as_json:
        evidence = {"events": rate.events, "holes": rate.holes, "level": rate.level}
        print_json({"per_1000": rate.per_1000, "interval": list(interval), **evidence})
        return
    click.echo(f"{short(rate.per_1000)} per 1,000 holes ({rounded(100 * level)} % interval: {between(interval)})")
    click.echo(f"{counted(rate.events, 'event')} in {counted(rate.holes, 'hole')}")
