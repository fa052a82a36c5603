"""How often taps break and slip, where, and which breaks these were: the quality lead's first questions."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.phrases import phrase
from shopfloor.core.survival.poisson_rate import Rate, rate_per_1000
from shopfloor.core.vocabulary import Cause, Word
from shopfloor.services.quality.failed_checks import FailedCheck, gauge_incidents
from shopfloor.services.record.work import Work
from shopfloor.store.queries.findings import (
    BrokenTap,
    breaks_since,
    broken_taps,
    materials,
    tap_types_by_code,
)
from shopfloor.store.queries.gauges import opened_incidents
from shopfloor.store.queries.output import Tally, day_of, tallies, taps_used

FEWEST_BREAKS = 3
"""Fewer breaks than this, seen and expected at the average rate, say little. Common practice, no source."""

ON_A_PAGE = 50


class Period(Word):
    """How far back to look."""

    ALL = "all", "Whole log"
    YEAR = "365", "Last 12 months"
    QUARTER = "90", "Last 90 days"
    MONTH = "30", "Last 30 days"

    def start(self, now: datetime) -> datetime | None:
        """Start of the period's first day, in UTC; None: that of the log."""
        if self is Period.ALL:
            return None
        first = day_of(now - timedelta(days=int(self.value)))
        return datetime(first.year, first.month, first.day, tzinfo=UTC)


@dataclass(frozen=True)
class Counted:
    """Breaks and cutting slips over the same holes, with how many taps made them.

    `slips` rests only on holes of runs that recorded slips; None where there is no such hole.
    """

    taps: int
    breaks: Rate
    slips: Rate | None


@dataclass(frozen=True)
class BreakagePlace:
    """One material at one speed band. `is_thin`: too few holes to tell its rate from chance."""

    material: str
    material_code: str
    speed_band: str
    counted: Counted
    is_thin: bool


@dataclass(frozen=True)
class Breakage:
    """Breaks and slips by material and speed. `total` is None where no hole was made."""

    total: Counted | None
    places: tuple[BreakagePlace, ...]
    worst: BreakagePlace | None
    tap_types: tuple[str, ...]
    level: float

    @property
    def materials(self) -> tuple[str, ...]:
        """The materials that occur, by name."""
        return tuple(dict.fromkeys(place.material for place in self.places))

    @property
    def speed_bands(self) -> tuple[str, ...]:
        """The speed bands that occur, slow to fast."""
        return tuple(sorted({place.speed_band for place in self.places}, key=SpeedBand.parse))


@dataclass(frozen=True)
class Incidents:
    """One page of the taps that broke or failed the gauge in a period, newest first.

    `by_cause` counts the breaks of the period, `failed_by_cause` its failed checks, whatever the filter.
    """

    shown: tuple[BrokenTap | FailedCheck, ...]
    found: int
    by_cause: tuple[tuple[Cause, int], ...]
    failed_by_cause: Mapping[Cause, int]
    page: int
    pages: int


def breakage(work: Work, tap_type: str | None = None, period: Period = Period.ALL) -> Breakage:
    """Breaks and cutting slips per 1,000 holes by material and speed.

    Raises
    ------
    InputError    an unknown tap type
    """
    with work.read() as session:
        codes = tap_types_by_code(session)
        chosen = None if tap_type is None else key_of(codes, "tap_type", tap_type)
        start = period.start(work.clock())
        since = None if start is None else day_of(start)
        found = tallies(session, chosen, since)
        taps = taps_used(session, chosen, since) if found else 0
        return _breakage(found, taps, session, tuple(codes), work)


def key_of(codes: dict[str, int], field: str, code: str) -> int:
    """The key of a code; an unknown one is refused, naming the field."""
    if code not in codes:
        raise InputError.of(field, phrase("'{code}' is not in the record", code=code[:60]), "choose one from the list")
    return codes[code]


def _breakage(tallies: Sequence[Tally], taps: int, session: Session, codes: tuple[str, ...], work: Work) -> Breakage:
    level, names = work.settings.level, materials(session)
    if not tallies:
        return Breakage(None, (), None, codes, level)
    total = _counted(tallies, taps, level)
    places = [
        _place(*names[tally.material], tally.speed_band, _counted([tally], tally.taps, level), total.breaks)
        for tally in tallies
    ]
    places.sort(key=lambda place: (place.material, SpeedBand.parse(place.speed_band)))
    return Breakage(total, tuple(places), _worst(places), codes, level)


def _counted(tallies: Sequence[Tally], taps: int, level: float) -> Counted:
    holes, slip_holes = sum(t.holes for t in tallies), sum(t.slip_holes for t in tallies)
    slips = sum(t.cutting_slips for t in tallies)
    return Counted(
        taps=taps,
        breaks=rate_per_1000(sum(t.breaks for t in tallies), holes, level),
        slips=rate_per_1000(slips, slip_holes, level) if slip_holes else None,
    )


def _place(code: str, name: str, band: str, counted: Counted, average: Rate) -> BreakagePlace:
    expected = average.per_1000 * counted.breaks.holes / 1000
    return BreakagePlace(name, code, band, counted, is_thin=max(counted.breaks.events, expected) < FEWEST_BREAKS)


def _worst(places: Iterable[BreakagePlace]) -> BreakagePlace | None:
    """The place that is certainly bad: by the lower end of its interval, so that a single early break does not win."""
    broken = [place for place in places if place.counted.breaks.events]
    return max(broken, key=lambda place: place.counted.breaks.lower, default=None)


def incidents(work: Work, period: Period = Period.ALL, cause: Cause | None = None, page: int = 1) -> Incidents:
    """The breaks and failed gauge checks of a period, newest first, those of one cause or all.

    Raises
    ------
    InputError    a page that is not there
    """
    with work.read() as session:
        since = period.start(work.clock())
        broken, failed = breaks_since(session, since), opened_incidents(session, since)
        every = [_Listed(at, cause, run) for run, at, cause in broken]
        every += [_Listed(one.at, one.cause or Cause.NOT_KNOWN, one.check, one.tap) for one in failed]
        every.sort(key=lambda one: one.at, reverse=True)
        found = [one for one in every if cause in (None, one.cause)]
        pages = max(1, -(-len(found) // ON_A_PAGE))
        if not 1 <= page <= pages:
            raise InputError.of(
                "page",
                phrase("there is no page {page}", page=page),
                phrase("choose a page from 1 to {pages}", pages=pages),
            )
        shown = _told(session, found[(page - 1) * ON_A_PAGE : page * ON_A_PAGE])
    failed_by_cause = Counter(one.cause or Cause.NOT_KNOWN for one in failed)
    by_cause = Counter(dict.fromkeys(failed_by_cause, 0))
    by_cause.update(cause for _, _, cause in broken)
    return Incidents(shown, len(found), tuple(by_cause.most_common()), failed_by_cause, page, pages)


@dataclass(frozen=True)
class _Listed:
    """An incident of the list, by the first id of the run or of the failed check; `tap` None: a break."""

    at: datetime
    cause: Cause
    id: uuid.UUID
    tap: int | None = None


def _told(session: Session, listed: Sequence[_Listed]) -> tuple[BrokenTap | FailedCheck, ...]:
    """These incidents whole, in the same order."""
    broken = {one.run: one for one in broken_taps(session, [one.id for one in listed if one.tap is None])}
    failed = gauge_incidents(session, {one.tap for one in listed if one.tap is not None})
    return tuple(broken[one.id] if one.tap is None else failed[one.id] for one in listed)
