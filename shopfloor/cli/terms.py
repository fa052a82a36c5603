"""Lengths, speed ranges and trade terms as command options."""

from __future__ import annotations

import re

import click

from shopfloor.cli.numbers import NUMBER
from shopfloor.core.units import MM_PER_INCH
from shopfloor.core.vocabulary import Word


class Length(click.ParamType[float]):
    """A length in mm, or with a unit: 18, 18mm, 0.7in."""

    name = "length"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The length in mm, or a usage error."""
        match = re.fullmatch(r"\s*(\S+?)\s*(mm|in|inch|\")?\s*", str(value), re.IGNORECASE)
        number = NUMBER.convert(match[1] if match else str(value), param, ctx)
        if not number > 0:
            self.fail(f"'{value}' is not a length; write one above 0, such as 18, 18mm or 0.7in", param, ctx)
        return round(number * MM_PER_INCH, 9) if match and match[2] and match[2].lower() != "mm" else number


class SpeedRange(click.ParamType[tuple[float, float]]):
    """Speeds of a station: 25-500, or one fixed speed."""

    name = "rpm-rpm"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Slowest and fastest speed, or a usage error."""
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)(?:\s*-\s*(\d+(?:\.\d+)?))?\s*", str(value), re.ASCII)
        if not match:
            self.fail(f"'{value}' is not a speed range; write it like 25-500, or 350 if it is fixed", param, ctx)
        return float(match[1]), float(match[2] or match[1])


class Term(click.ParamType[Word]):
    """A trade term, by its value, label or another spelling."""

    def __init__(self, words: type[Word]) -> None:
        self.words = words
        self.name = "word"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Word:
        """The word, or a usage error that lists them."""
        text = " ".join(str(value).replace("_", " ").split()).casefold()
        for word in self.words:
            names = {name.casefold() for name in (word.value, word.label, *word.also)}
            if names & {text, text.replace("-", " ")}:
                return word
        self.fail(f"'{value}' is not known; write one of: {', '.join(word.value for word in self.words)}", param, ctx)


LENGTH = Length()
SPEED_RANGE = SpeedRange()
