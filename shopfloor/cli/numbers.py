"""What the number commands share: strict numbers in, strict JSON and readable numbers out."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping

import click

from shopfloor.core.life_table.read import number_in
from shopfloor.core.phrases import rounded


class Number(click.ParamType[float]):
    """A plain finite number: no 'nan', no 'inf', no blanks or commas between digits."""

    name = "number"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number, or a usage error."""
        number = float(value) if isinstance(value, float | int) else number_in(str(value))
        if number is None:
            self.fail(f"'{value}' is not a number; write digits with a decimal point, such as 447 or 12.5", param, ctx)
        return number


NUMBER = Number()


def finite(value: float | None) -> float | None:
    """The number as JSON can hold it: None where it is unknown or infinite."""
    return value if value is not None and math.isfinite(value) else None


def ends(interval: tuple[float, float] | None) -> list[float | None] | None:
    """An interval as JSON; an open end is null."""
    return None if interval is None else [finite(end) for end in interval]


def print_json(answer: Mapping[str, object]) -> None:
    """One JSON object on standard output."""
    click.echo(json.dumps(answer, indent=2, allow_nan=False, ensure_ascii=False))


def short(value: float | None) -> str:
    """A number to four figures, for people."""
    if value is None:
        return "unknown"
    return "open" if math.isinf(value) else f"{value:,.0f}" if abs(value) >= 1000 else rounded(value, 4)


def between(interval: tuple[float, float]) -> str:
    """An interval in words."""
    low, high = interval
    if math.isinf(high):
        return f"at least {short(low)}" if low > 0 else "unknown"
    return f"{short(low)} to {short(high)}"
