"""Template filters: numbers with their units, intervals, chances, times.

A date without a time is stored as midnight in the shop's zone, so a time of exactly midnight is not shown: at worst
less is shown than was entered, never more.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time
from decimal import Decimal

from flask import Flask

from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.phrases import Phrase, one_in, phrase, phrase_of, rounded
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.units import MM_PER_FOOT, Units
from shopfloor.web.context import work
from shopfloor.web.i18n.language import locale, say, spoken
from shopfloor.web.i18n.measures import units
from shopfloor.web.i18n.numbers import written
from shopfloor.web.i18n.quantities import day_written, time_written

NO_VALUE = "–"


def install(app: Flask) -> None:
    """Register the filters."""
    for filter_ in (
        number,
        whole,
        decimal,
        percent,
        chance,
        money,
        saving,
        leaning_on,
        local_time,
        local_date,
        day,
        local_clock,
        as_of,
        ago,
        capitalize_first,
        thread_length,
        speed_band,
    ):
        app.add_template_filter(filter_)


def number(english: str) -> str:
    """A number in English notation, converted to that of the page's language."""
    return written(english, locale())


def whole(value: float | None) -> str:
    """A count with thousands separated; an open end is 'no limit'."""
    if value is None or math.isnan(value):
        return NO_VALUE
    return say(phrase("no limit")) if math.isinf(value) else number(f"{round(value):,}")


def hole_of_end(lower: float, upper: float) -> str:
    """The hole at which a life ended, after `lower` and by `upper` holes: '447', '411 to 460'."""
    first = whole(min(lower + 1, upper))
    last = whole(upper)
    return last if first == last else say(phrase("{low} to {high}", low=first, high=last))


def decimal(value: float | None, digits: int = 2) -> str:
    """A number to `digits` significant figures, never in powers of ten."""
    if value is None or math.isnan(value):
        return NO_VALUE
    if math.isinf(value):
        return say(phrase("no limit"))
    return number(significant(value, digits))


def significant(value: float, digits: int = 2) -> str:
    """A finite number in English to `digits` significant figures, never in powers of ten."""
    # After rounding: 9.96 to two figures is 10, without decimals.
    power = int(f"{value:.{digits - 1}e}".partition("e")[2])
    return f"{value:,.{max(0, digits - 1 - power)}f}"


def percent(value: float | None) -> str:
    """A share as a percentage."""
    if value is None or math.isnan(value):
        return NO_VALUE
    return number(f"{100 * value:.0f}" if value >= 0.0995 or value == 0 else rounded(100 * value, 2)) + " %"


def speed_band(label: str) -> str:
    """A stored speed band in the page's units: '6.3-10 m/min', '21-33 ft/min'."""
    # In a table the line may break before the unit.
    return str(spoken(SpeedBand.parse(label).told)).replace("\u00a0", " ")


def thread_length(length_m: float) -> str:
    """A length of thread in both units, the page's first: '4.9 m (16 ft)'."""
    metric = f"{number(f'{length_m:,.1f}')}\u00a0m"
    feet = f"{number(f'{1000 * length_m / MM_PER_FOOT:,.0f}')}\u00a0ft"
    return f"{feet} ({metric})" if units() is Units.INCH else f"{metric} ({feet})"


def chance(value: float | None) -> str:
    """A chance as people say it: '1 in 12', 'more likely than not'."""
    if value is None or math.isnan(value):
        return say(phrase("not known"))
    if value > 0.5:
        return say(phrase("more likely than not"))
    if value < 1e-4:
        return say(phrase("less than 1 in {n}", n=10_000))
    return say(phrase("1 in {n}", n=one_in(value)))


def money(amount: float | Decimal | None) -> str:
    """An amount with the shop's currency, if it is set: '24.00 EUR', else '24.00'."""
    return NO_VALUE if amount is None else f"{number(f'{amount:,.2f}')} {work().settings.currency}".rstrip()


def leaning_on(share: float) -> str:
    """How much of the evidence is borrowed from other taps: '62 % from like taps'."""
    return say(phrase("{percent}\u00a0% from like taps", percent=round(100 * share)))


def saving(estimate: Estimate) -> str:
    """What a change in time saves, and how sure that is: an interval below 0 is called a loss, not a figure."""
    if estimate.value is None:
        return say(phrase("Saving not known"))
    return say(
        phrase(
            "About {share} of the cost per hole ({level} interval: {low} to {high})",
            share=percent(estimate.value),
            level=percent(estimate.level),
            low=percent(estimate.lower) if estimate.lower > 0 else phrase("a loss"),
            high=percent(estimate.upper),
        )
    )


def local_time(moment: datetime | None) -> str:
    """Date and time in the shop's zone; the date alone if no time was given."""
    return " ".join(part for part in (local_date(moment), local_clock(moment)) if part)


def local_clock(moment: datetime | None) -> str:
    """Hour and minute in the shop's zone; empty if no time was given."""
    if moment is None or _is_day_only(moment):
        return ""
    return time_written(_local(moment), locale())


def as_of(moment: datetime | None) -> str:
    """When the estimates shown were worked out, as a sentence; of another day with its date; nothing if just now."""
    if moment is None:
        return ""
    is_today = _local(moment).date() == _local(work().clock()).date()
    return say(phrase("Estimates as of {time}.", time=local_clock(moment) if is_today else local_time(moment)))


def local_date(moment: datetime | None) -> str:
    """Date in the shop's zone."""
    return day(_local(moment).date()) if moment else NO_VALUE


def typed_time(moment: datetime) -> str:
    """Date and time in the shop's zone as a form takes them, whatever the country: '2026-03-31 14:05'."""
    local = _local(moment)
    if _is_day_only(moment):
        return f"{local:%Y-%m-%d}"
    # An hour repeats when clocks go back: the offset marks the second one, which would else be read as the first.
    return local.isoformat(" ", "minutes") if local.fold else f"{local:%Y-%m-%d %H:%M}"


def day(value: date | None) -> str:
    """A calendar day."""
    if value is None:
        return NO_VALUE
    return day_written(value, locale())


def ago(moment: datetime | None) -> str:
    """How long ago, in the largest unit that fits."""
    if moment is None:
        return say(phrase("never"))
    if _is_day_only(moment):
        days = (_local(work().clock()).date() - _local(moment).date()).days
        return say(_days_ago(days) if days > 0 else phrase("today"))
    seconds = max(0.0, (work().clock().astimezone(UTC) - moment).total_seconds())
    for size, told in ((86400, _days_ago), (3600, _hours_ago), (60, _minutes_ago)):
        if seconds >= size:
            return say(told(int(seconds // size)))
    return say(phrase("just now"))


def _days_ago(number: int) -> Phrase:
    return phrase_of(number, "{n} day ago", "{n} days ago", n=number)


def _hours_ago(number: int) -> Phrase:
    return phrase_of(number, "{n} hour ago", "{n} hours ago", n=number)


def _minutes_ago(number: int) -> Phrase:
    return phrase_of(number, "{n} minute ago", "{n} minutes ago", n=number)


def _local(moment: datetime) -> datetime:
    return moment.astimezone(work().settings.zone)


def _is_day_only(moment: datetime) -> bool:
    """Whether only the day is known: a file's date without a time is stored as the shop's midnight.

    Work logged here carries fractions of a second, so it never falls exactly on midnight.
    """
    # If clocks go forward at midnight, the day begins later, and midnight is read with the previous day's offset.
    midnight = datetime.combine(_local(moment).date(), time.min, work().settings.zone)
    return midnight.astimezone(UTC) == moment.astimezone(UTC)


def capitalize_first(text: str) -> str:
    """The sentence with a capital at its start; the rest as it is."""
    text = spoken(text)
    return text[:1].upper() + text[1:]
