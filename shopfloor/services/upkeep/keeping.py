"""Which of the backups made by the clock are kept: the newest of each of the last days, weeks and months."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class KeepRule:
    """For how many days, weeks and months that have a backup the newest one is kept."""

    days: int = 7
    weeks: int = 4
    months: int = 12


def kept(made: Collection[datetime], rule: KeepRule) -> set[datetime]:
    """The moments whose backups are kept; the newest always is."""
    return (
        _newest(made, rule.days, lambda at: at.date())
        | _newest(made, rule.weeks, lambda at: at.isocalendar()[:2])
        | _newest(made, rule.months, lambda at: (at.year, at.month))
        | set(sorted(made)[-1:])
    )


def _newest(made: Collection[datetime], number: int, span: Callable[[datetime], Hashable]) -> set[datetime]:
    by_span = {span(at): at for at in sorted(made)}
    return set(sorted(by_span.values())[-number:]) if number else set()
