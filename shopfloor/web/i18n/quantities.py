"""Values within sentences: numbers, and quantities in the units of the job, as the page's language writes them."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache

from babel.dates import format_date, format_time

from shopfloor.core.phrases import Figure, Measurement, Quantity, rounded
from shopfloor.core.threads.designations import standard_threads
from shopfloor.core.threads.series import Series
from shopfloor.core.units import NM_PER_FT_LB, NM_PER_IN_LB, Units
from shopfloor.web.i18n.numbers import written

_BLANK = "\u00a0"
_LEAST_FT_LB = 10
_LEAST_WHOLE = 100
"""From this number of pounds on, tenths are noise."""


def in_words(value: object, locale: str, units: Units) -> str:
    """A value within a sentence: numbers in the language's notation, anything else as it is."""
    if isinstance(value, Measurement):
        return measured(value, locale, units)
    if isinstance(value, Figure):
        return written(value, locale)
    if isinstance(value, date):
        return day_written(value, locale) + (f" {time_written(value, locale)}" if isinstance(value, datetime) else "")
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return written(f"{value:,}" if isinstance(value, int) else rounded(value), locale)


def day_written(value: date, locale: str) -> str:
    """A day as written in the shop's country; 2026-03-31 if the country is not set."""
    return format_date(value, "medium", locale=locale) if "_" in locale else f"{value:%Y-%m-%d}"


def time_written(value: datetime, locale: str) -> str:
    """The time of day in 12 or 24 hours, by the shop's country; the value is in the shop's zone."""
    return format_time(value, "short", locale=locale) if "_" in locale else f"{value:%H:%M}"


def measured(value: Measurement, locale: str, units: Units) -> str:
    """A measure in these units: lengths to a thousandth of an inch, or as many digits of mm as they came with."""
    first = value.metric[0]
    number, _, unit = value.partition(" ")
    if value.quantity is Quantity.BOTH_LENGTHS:
        return _in_both(value, locale, units)
    if units is Units.INCH:
        match value.quantity:
            case Quantity.SURFACE_SPEED:
                number, unit = f"{units.of_m_min(first):.0f}", units.speed
            case Quantity.SPEED_BAND:
                number, unit = "-".join(f"{units.of_m_min(end):.0f}" for end in value.metric), units.speed
            case Quantity.TORQUE:
                return f"{in_pounds(first, locale)} ({written(number, locale)}{_BLANK}{unit.replace(' ', _BLANK)})"
            case _:
                number, unit = f"{units.of_mm(first):.3f}", units.length
    told = f"{'-'.join(written(part, locale) for part in number.split('-'))}{_BLANK}{unit.replace(' ', _BLANK)}"
    thread = largest_coarse(first, units) if value.quantity is Quantity.LARGEST_THREAD else None
    return told if thread is None else f"{told} ({thread})"


def _in_both(value: Measurement, locale: str, units: Units) -> str:
    mm = value.metric[0]
    inches = f"{Units.INCH.of_mm(mm):,.3f}"
    ways = [f"{written(rounded(mm, 4), locale)}{_BLANK}mm", f"{written(inches, locale)}{_BLANK}in"]
    own, other = ways if units is Units.METRIC else reversed(ways)
    return f"{own} ({other})"


def in_pounds(nm: float, locale: str) -> str:
    """Foot-pounds, or inch-pounds below ten of them, as torque drivers are marked. Common practice, no source."""
    feet = nm / NM_PER_FT_LB
    number, unit = (feet, "ft-lb") if feet >= _LEAST_FT_LB else (nm / NM_PER_IN_LB, "in-lb")
    places = 0 if number >= _LEAST_WHOLE else 1
    return f"{written(f'{number:,.{places}f}', locale)}{_BLANK}{unit}"


def largest_coarse(mm: float, units: Units) -> str | None:
    """The largest coarse thread of the inch or metric series up to this diameter; None if there is none."""
    return next((text for major, text in reversed(_coarse(units)) if major <= mm * 1.001), None)


@cache
def _coarse(units: Units) -> tuple[tuple[float, str], ...]:
    """Major diameter in mm and name of each coarse thread, by size: ASME B1.1 UNC, ISO 261 coarse pitches."""
    is_inch = units is Units.INCH
    coarse = (
        thread for thread in standard_threads() if thread.series is (Series.UNC if is_inch else Series.METRIC_COARSE)
    )
    return tuple(sorted((thread.major_mm, thread.text) for thread in coarse))
