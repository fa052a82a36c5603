"""Errors, named for what happened and carrying what the caller needs to report them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One problem with an input.

    Attributes
    ----------
    field     the field it concerns
    what      what is wrong
    remedy    what would be right
    row       row in a file as a spreadsheet counts it (the heading is row 1); None elsewhere
    """

    field: str
    what: str
    remedy: str
    row: int | None = None

    def sentence(self) -> str:
        """The problem as a sentence, as every entry point (form, JSON, CSV, command line) prints it."""
        name = self.field.replace("_", " ")
        place = f"row {self.row}, {name}" if self.row is not None else name
        return f"{place}: {self.what}; {self.remedy}"


class InputError(ValueError):
    """Input that cannot be used; carries every problem found, not just the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(p.sentence() for p in self.problems))

    @classmethod
    def of(cls, field: str, what: str, remedy: str) -> InputError:
        """An error with a single problem.

        Parameters
        ----------
        field     the field it concerns
        what      what is wrong
        remedy    what would be right
        """
        return cls([Problem(field, what, remedy)])


class Conflict(InputError):
    """Well-formed input that contradicts what is already recorded."""


class NotConverged(RuntimeError):
    """A fit that did not reach its optimum; the caller shows a bound or says so, never an intermediate number."""


class NotFound(LookupError):
    """Nothing in the record has this id."""


class OutdatedProgram(Exception):
    """The database belongs to another version of the program: this one must be updated before it may write."""
