"""What can go wrong, named for what happened and carrying what the caller needs to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with an input: which field, what is wrong, what would be right."""

    field: str
    what: str
    remedy: str
    row: int | None = None
    """Row in a file, counted as a spreadsheet shows it (the heading is row 1); None elsewhere."""

    def sentence(self) -> str:
        """The problem in words, as every door (form, JSON, CSV, command line) prints it."""
        name = self.field.replace("_", " ")
        place = f"row {self.row}, {name}" if self.row is not None else name
        return f"{place}: {self.what}; {self.remedy}"


class InputError(ValueError):
    """Input that cannot be used; carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(p.sentence() for p in self.problems))

    @classmethod
    def of(cls, field: str, what: str, remedy: str) -> InputError:
        """An error with a single problem."""
        return cls([Problem(field, what, remedy)])


class Conflict(InputError):
    """Input that is well formed but contradicts what is recorded already."""


class NotConverged(RuntimeError):
    """A fit that did not reach its optimum; the caller shows a bound or says so, never a half-way number."""


class NotFound(LookupError):
    """Nothing in the record has this id."""
