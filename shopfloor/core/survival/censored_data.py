"""Censored data of tap lives, as arrays: exact, interval-censored, right-censored, left-truncated.

`shopfloor.core.floor.tap_lives` translates a shop's records into these.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import add

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import rounded

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LONGEST_AGE = 1e15
"""No tap makes more holes; a larger number is a typing error."""

MOST_ALIKE = 1_000_000_000
"""No shop has more taps with the same life."""


@dataclass(frozen=True)
class Evidence:
    """Evidence behind an estimate: taps (lives), failures among them, and holes over which they were followed."""

    taps: int
    failures: int
    holes: float

    def __add__(self, other: Evidence) -> Evidence:
        return Evidence(self.taps + other.taps, self.failures + other.failures, self.holes + other.holes)

    @classmethod
    def total(cls, parts: Iterable[Evidence]) -> Evidence:
        """The evidence of several groups together."""
        return reduce(add, parts, cls(0, 0, 0.0))


@dataclass(frozen=True, eq=False)
class Lives:
    """Censored lives, one per row; build with `Lives.of`, which validates them.

    Attributes
    ----------
    lower, upper : shape (n,), holes (or any one unit of age)
        equal: failed at exactly that age; `upper` infinite: still good at `lower`;
        otherwise failed somewhere in (lower, upper]
    entry : shape (n,), same unit
        age at which the life was first followed (left truncation); an earlier failure would not have been recorded
    mode : shape (n,), text
        how the life failed; empty where it did not, or where no mode was given
    count : shape (n,), whole numbers from 1
        how many lives the row stands for
    """

    lower: FloatArray
    upper: FloatArray
    entry: FloatArray
    mode: NDArray[np.str_]
    count: FloatArray

    @classmethod
    def of(
        cls,
        lower: ArrayLike,
        upper: ArrayLike,
        entry: ArrayLike | None = None,
        mode: Sequence[str | None] | None = None,
        count: ArrayLike | None = None,
    ) -> Lives:
        """Validated lives from columns of equal length.

        Parameters
        ----------
        lower, upper : array_like, shape (n,)   ages in holes; `upper` = inf for a life that has not failed
        entry : array_like, shape (n,)          age when first followed, default 0
        mode : sequence of text, length n       None or '' where the life has not failed
        count : array_like, shape (n,)          default 1

        Raises
        ------
        InputError    every invalid value, with its row counted from 0
        """
        low = _column("lower", lower)
        n = low.size
        lives = cls(
            low,
            _column("upper", upper, n),
            _column("entry", np.zeros(n) if entry is None else entry, n),
            np.array(["" if m is None else str(m) for m in mode] if mode is not None else [""] * n, dtype=np.str_),
            _column("count", np.ones(n) if count is None else count, n),
        )
        if lives.mode.size != n:
            raise InputError.of("mode", f"{lives.mode.size} values", f"give {n}, one for each life")
        problems = list(_problems(lives))
        if problems:
            raise InputError(problems)
        return lives

    def __len__(self) -> int:
        return int(self.lower.size)

    @property
    def is_failure(self) -> BoolArray:
        """Which rows ended in a failure."""
        return np.isfinite(self.upper)

    @property
    def is_exact(self) -> BoolArray:
        """Which rows failed at a known age."""
        return np.asarray(self.lower == self.upper)

    @property
    def lives(self) -> int:
        """How many lives there are, counts included."""
        return int(self.count.sum())

    @property
    def failures(self) -> int:
        """How many of them failed."""
        return int(self.count[self.is_failure].sum())

    @property
    def holes(self) -> float:
        """Holes over which the lives were followed: from entry to the last observation of each."""
        last_look = np.where(self.is_failure, self.upper, self.lower)
        return float(((last_look - self.entry) * self.count).sum())

    @property
    def evidence(self) -> Evidence:
        """Taps, failures and holes, as shown beside every estimate."""
        return Evidence(self.lives, self.failures, self.holes)

    def rows(self, which: NDArray[np.intp]) -> Lives:
        """Some of the rows, in the order given."""
        mode, count = self.mode[which], self.count[which]
        return Lives(self.lower[which], self.upper[which], self.entry[which], mode, count)

    def modes(self) -> list[str]:
        """The modes of failure that occur, sorted."""
        return sorted({str(m) for m in self.mode if m})

    def of_mode(self, mode: str) -> Lives:
        """The same lives for one mode, failures by other modes being censored.

        An exact failure by another mode is censored at its age, an interval failure at its lower end.
        """
        mine = (self.mode == mode) & self.is_failure
        upper = np.where(mine, self.upper, np.inf)
        return Lives(self.lower, upper, self.entry, np.where(mine, self.mode, ""), self.count)


def _column(name: str, values: ArrayLike, length: int | None = None) -> FloatArray:
    """A column as floats of the wanted length."""
    try:
        column = np.array(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise InputError.of(name, "not all numbers", "give numbers only") from error
    if column.ndim != 1 or (length is not None and column.size != length):
        wanted = "one column" if length is None else f"one column of {length} values"
        raise InputError.of(name, f"shape {column.shape}", f"give {wanted}")
    return column


def _problems(lives: Lives) -> Iterable[Problem]:
    """Every invalid value, row by row."""
    low, up, entry, count = lives.lower, lives.upper, lives.entry, lives.count
    exact, failed, named = low == up, np.isfinite(up), lives.mode != ""
    has_modes = bool(np.any(named & failed))
    checks: list[tuple[str, BoolArray, str, str]] = [
        ("lower", ~np.isfinite(low), "not a number of holes", "give the age, 0 or more"),
        ("lower", low < 0, "below 0", "give the age, 0 or more"),
        ("lower", np.isfinite(low) & (low > LONGEST_AGE), "beyond any life", f"give at most {rounded(LONGEST_AGE)}"),
        ("upper", np.isnan(up), "not a number of holes", "give the age, or leave it empty where it has not failed"),
        ("upper", up < low, "below lower", "give an age from lower on, or leave it empty where it has not failed"),
        ("upper", failed & (up > LONGEST_AGE), "beyond any life", f"give at most {rounded(LONGEST_AGE)}"),
        ("lower", exact & (low == 0), "a failure at age 0", "give an age above 0, or the interval in which it failed"),
        ("entry", ~np.isfinite(entry), "not a number of holes", "give the age when first followed, 0 for new"),
        ("entry", entry < 0, "below 0", "give the age when first followed, 0 for new"),
        ("entry", entry > np.maximum(low, 0), "after lower", "give an age up to lower"),
        ("entry", exact & failed & (entry == low) & (low > 0), "equal to the age of failure", "give an age before it"),
        ("mode", named & ~failed, "a mode on a life that has not failed", "leave it empty"),
        ("mode", ~named & failed & has_modes, "no mode, where other failures have one", "give it, or none at all"),
        ("count", ~(np.isfinite(count) & (count >= 1) & (count == np.floor(count))), "not a count", "give 1, 2, 3 ..."),
        ("count", np.isfinite(count) & (count > MOST_ALIKE), "more than any shop has", f"give 1 to {MOST_ALIKE:,}"),
    ]
    for field, wrong, what, remedy in checks:
        yield from (Problem(field, what, remedy, int(row)) for row in np.flatnonzero(wrong))
