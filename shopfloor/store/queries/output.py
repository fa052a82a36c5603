"""What was made: by job, and by material and speed; in the whole log, or since a day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, delete, func, insert, select, text
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import Mode
from shopfloor.store import CribStock, DailyOutput, LifeStretch, MarkedInCrib, StockMovement, TapType, TotalOutput
from shopfloor.store.output import Output
from shopfloor.store.queries.log import band_at, counts

_COUNTED = ("runs", "holes", "breaks", "cutting_slips", "slip_holes")
_KEPT = (*_COUNTED, "judged_slips", "judged_holes")
_SUMMARIES: tuple[type[Any], ...] = (DailyOutput, TotalOutput)


@dataclass(frozen=True)
class Tally:
    """What taps did in one material and speed band. `slip_holes`: holes of runs that recorded slips."""

    material: int
    speed_band: str
    taps: int
    holes: int
    breaks: int
    cutting_slips: int
    slip_holes: int


@dataclass(frozen=True)
class BandTally:
    """Holes, breaks and worn taps of one speed band, by the band's label."""

    band: str
    holes: int
    breaks: int
    worn: int


@dataclass(frozen=True)
class JobUse:
    """Holes that one job made with one tap type: all, and those since a day; the runs' material and mean speed.

    `job` 0: none was stated.
    """

    job: int
    material: int
    tap_type: int
    holes: int
    lately: int
    rpm: float


def day_of(moment: datetime) -> date:
    """The day by which the output of that moment is summed: that in UTC."""
    return moment.astimezone(UTC).date()


def holes_by_job(session: Session, jobs: Collection[int]) -> dict[int, int]:
    """Holes made in each of the jobs that has any run."""
    query = select(TotalOutput.job_id, func.sum(TotalOutput.holes)).where(TotalOutput.job_id.in_(jobs))
    return {job: int(holes) for job, holes in session.execute(query.group_by(TotalOutput.job_id))}


def runs_since(session: Session, day: date) -> int:
    """Number of runs that ended on that day or later."""
    return session.scalar(select(func.coalesce(func.sum(DailyOutput.runs), 0)).where(DailyOutput.day >= day)) or 0


def tallies(session: Session, tap_type: int | None, since: date | None) -> list[Tally]:
    """By material and speed band, of one tap type or all, on that day and later or ever."""
    made = TotalOutput if since is None else DailyOutput
    sums = [func.sum(getattr(made, name)) for name in _COUNTED]
    query = select(made.material_id, made.rpm, TapType.thread, *sums).join(TapType, TapType.id == made.tap_type_id)
    query = query.where(*_of_type(made, tap_type), *([] if since is None else [DailyOutput.day >= since]))
    found: defaultdict[tuple[int, str], list[int]] = defaultdict(lambda: [0] * len(_COUNTED))
    for material, rpm, thread, *counted in session.execute(query.group_by(made.material_id, made.rpm, TapType.thread)):
        place = found[material, band_at(rpm, thread)]
        place[:] = [before + int(more) for before, more in zip(place, counted, strict=True)]
    taps = _taps_by_place(session, tap_type, since)
    return [Tally(*key, taps.get(key, 0), *counted) for key, (runs, *counted) in found.items() if runs]


def taps_used(session: Session, tap_type: int | None, since: date | None) -> int:
    """Number of taps that made a hole."""
    return (
        session.scalar(select(func.count()).select_from(_used([LifeStretch.tap_id], tap_type, since).subquery())) or 0
    )


def _taps_by_place(session: Session, tap_type: int | None, since: date | None) -> dict[tuple[int, str], int]:
    keys = [LifeStretch.material_id, LifeStretch.speed_band]
    used = _used([*keys, LifeStretch.tap_id], tap_type, since).subquery()
    query = select(used.c.material_id, used.c.speed_band, func.count()).group_by(used.c.material_id, used.c.speed_band)
    return {(material, band): taps for material, band, taps in session.execute(query)}


def _used(columns: list[Any], tap_type: int | None, since: date | None) -> Select[Any]:
    """Distinct taps with these conditions; a stretch's last run tells whether it reaches into the period."""
    query = select(*columns).distinct()
    if tap_type is not None:
        query = query.where(LifeStretch.tap_type_id == tap_type)
    if since is not None:
        query = query.where(LifeStretch.last_at >= datetime(since.year, since.month, since.day, tzinfo=UTC))
    return query


def _of_type(made: type[Output], tap_type: int | None) -> list[ColumnElement[bool]]:
    return [] if tap_type is None else [made.tap_type_id == tap_type]


def job_uses(session: Session, since: date) -> list[JobUse]:
    """Holes by job, material and tap type over the whole log and since a day; a broken tap's holes end at the break."""
    daily = (DailyOutput.job_id, DailyOutput.material_id, DailyOutput.tap_type_id)
    lately = select(*daily, func.sum(DailyOutput.holes)).where(DailyOutput.day >= since).group_by(*daily)
    recent = {(job, material, kind): int(holes) for job, material, kind, holes in session.execute(lately)}
    total = (TotalOutput.job_id, TotalOutput.material_id, TotalOutput.tap_type_id)
    turned = func.sum(TotalOutput.rpm * TotalOutput.runs)
    query = select(*total, func.sum(TotalOutput.holes), func.sum(TotalOutput.runs), turned).group_by(*total)
    return [
        JobUse(job, material, kind, int(holes), recent.get((job, material, kind), 0), int(turns) / int(runs))
        for job, material, kind, holes, runs, turns in session.execute(query)
        if runs
    ]


def band_tallies(session: Session, tap_types: Collection[int], material: int) -> list[BandTally]:
    """Tallies of some tap types together in one material, by band."""
    made = (
        select(TotalOutput.rpm, TapType.thread, func.sum(TotalOutput.holes), func.sum(TotalOutput.breaks))
        .join(TapType, TapType.id == TotalOutput.tap_type_id)
        .where(TotalOutput.tap_type_id.in_(tap_types), TotalOutput.material_id == material)
        .group_by(TotalOutput.rpm, TapType.thread)
    )
    found: defaultdict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for rpm, thread, holes, breaks in session.execute(made):
        band = band_at(rpm, thread)
        found[band] = found[band][0] + int(holes), found[band][1] + int(breaks)
    wore = (
        select(LifeStretch.speed_band, func.count().label("number"))
        .where(LifeStretch.tap_type_id.in_(tap_types), LifeStretch.material_id == material)
        .where(LifeStretch.mode == Mode.WEAR)
        .group_by(LifeStretch.speed_band)
    )
    worn = {row.speed_band: row.number for row in session.execute(wore)}
    return [BandTally(band, *found[band], worn.get(band, 0)) for band in sorted(found)]


def judged_slips(session: Session, tap_type: int, material: int) -> dict[int, tuple[int, int]]:
    """By spindle speed: holes and cutting slips by which taps of this type are judged in this material."""
    sums = func.sum(TotalOutput.judged_holes), func.sum(TotalOutput.judged_slips)
    query = select(TotalOutput.rpm, *sums).group_by(TotalOutput.rpm)
    of_type = query.where(TotalOutput.tap_type_id == tap_type, TotalOutput.material_id == material)
    return {rpm: (int(holes), int(slips)) for rpm, holes, slips in session.execute(of_type)}


def recount(session: Session) -> None:
    """Work out the output and the crib's stock anew from the log."""
    for table in _SUMMARIES:
        session.execute(delete(table))
        keys = [column.name for column in table.__table__.primary_key]
        sums = ", ".join(f"sum({name})" for name in _KEPT)
        made = (
            f"SELECT {', '.join(keys)}, {sums} FROM run_output "  # noqa: S608 - names of our own columns
            f"WHERE id IN (SELECT id FROM run_that_counts) GROUP BY {', '.join(keys)}"
        )
        session.execute(text(f"INSERT INTO {table.__tablename__} ({', '.join((*keys, *_KEPT))}) {made}"))
    session.execute(delete(CribStock))
    booked = select(StockMovement.tap_type_id, func.count(), func.sum(StockMovement.quantity))
    booked = booked.where(counts(StockMovement)).group_by(StockMovement.tap_type_id)
    session.execute(insert(CribStock).from_select(["tap_type_id", "movements", "on_hand"], booked))
    session.execute(delete(MarkedInCrib))
    session.execute(
        text("INSERT INTO marked_in_crib (tap_id, tap_type_id) SELECT DISTINCT tap_id, tap_type_id FROM newest_place")
    )
