"""Template filters: numbers with their units, intervals, chances, times."""

from __future__ import annotations

import math
from datetime import UTC, datetime, time
from decimal import Decimal

from flask import Flask

from shopfloor.core.counting import counted
from shopfloor.core.intervals import Estimate
from shopfloor.core.risk import one_in
from shopfloor.core.units import MM_PER_INCH
from shopfloor.web.context import work

NO_VALUE = "–"


def install(app: Flask) -> None:
    """Register the filters."""
    for filter_ in (
        whole,
        decimal,
        percent,
        chance,
        money,
        saving,
        leaning_on,
        local_time,
        local_date,
        local_clock,
        ago,
        capitalize_first,
        thread_length,
    ):
        app.add_template_filter(filter_)


def whole(value: float | None) -> str:
    """A count with thousands separated; an open end is 'no limit'."""
    if value is None or math.isnan(value):
        return NO_VALUE
    return "no limit" if math.isinf(value) else f"{round(value):,}"


def decimal(value: float | None, digits: int = 2) -> str:
    """A number to `digits` significant figures, never in powers of ten."""
    if value is None or math.isnan(value):
        return NO_VALUE
    if math.isinf(value):
        return "no limit"
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:,.{places}f}"


def percent(value: float | None) -> str:
    """A share as a percentage."""
    if value is None or math.isnan(value):
        return NO_VALUE
    return f"{100 * value:.0f} %" if value >= 0.0995 or value == 0 else f"{100 * value:.2g} %"


def thread_length(length_m: float) -> str:
    """A length of thread, metric and in feet: '4.9 m (16 ft)'."""
    return f"{length_m:,.1f}\u00a0m ({1000 * length_m / (12 * MM_PER_INCH):,.0f}\u00a0ft)"


def chance(value: float | None) -> str:
    """A chance as people say it: '1 in 12', 'more likely than not'."""
    if value is None or math.isnan(value):
        return "not known"
    if value > 0.5:
        return "more likely than not"
    if value < 1e-4:
        return "less than 1 in 10,000"
    return f"1 in {one_in(value):,}"


def money(amount: float | Decimal | None) -> str:
    """An amount in the shop's currency, where the shop has named one: '24.00 EUR', else '24.00'."""
    return NO_VALUE if amount is None else f"{amount:,.2f} {work().settings.currency}".rstrip()


def leaning_on(share: float) -> str:
    """How much of what is known comes from other taps: '62 % from like taps'."""
    return f"{100 * share:.0f}\u00a0% from like taps"


def saving(estimate: Estimate) -> str:
    """What a change in time saves, and how sure that is: an interval below 0 is called a loss, not a figure."""
    if estimate.value is None:
        return "Saving not known"
    low = percent(estimate.lower) if estimate.lower > 0 else "a loss"
    told = f"About {percent(estimate.value)} of the cost per hole"
    return f"{told} ({percent(estimate.level)} interval: {low} to {percent(estimate.upper)})"


def local_time(moment: datetime | None) -> str:
    """Date and time in the shop's zone; the date alone where no time was given."""
    return " ".join(part for part in (local_date(moment), local_clock(moment)) if part)


def local_clock(moment: datetime | None) -> str:
    """Hour and minute in the shop's zone; empty where no time was given."""
    return "" if moment is None or _is_day_only(moment) else f"{_local(moment):%H:%M}"


def local_date(moment: datetime | None) -> str:
    """Date in the shop's zone."""
    return f"{_local(moment):%Y-%m-%d}" if moment else NO_VALUE


def ago(moment: datetime | None) -> str:
    """How long ago, in the largest unit that fits."""
    if moment is None:
        return "never"
    if _is_day_only(moment):
        days = (_local(work().clock()).date() - _local(moment).date()).days
        return counted(days, "day") + " ago" if days > 0 else "today"
    seconds = max(0.0, (work().clock().astimezone(UTC) - moment).total_seconds())
    for size, unit in ((86400, "day"), (3600, "hour"), (60, "minute")):
        if seconds >= size:
            return counted(seconds // size, unit) + " ago"
    return "just now"


def _local(moment: datetime) -> datetime:
    return moment.astimezone(work().settings.zone)


def _is_day_only(moment: datetime) -> bool:
    """Whether only the day is known: a file's date without a time is stored as the shop's midnight.

    Work that is logged here carries the clock's fractions of a second and does not fall on it.
    """
    return _local(moment).time() == time.min


def capitalize_first(text: str) -> str:
    """The sentence with a capital at its start; the rest as it is."""
    return text[:1].upper() + text[1:]
