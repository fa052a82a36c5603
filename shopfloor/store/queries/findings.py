"""Queries for the quality lead: where taps broke, over how many holes, and which lives there are."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import Cause, Mode, PartFate, TapEnd
from shopfloor.store import Incident, Job, LifeStretch, Material, Run, Station, Tap, TapLife, TapType
from shopfloor.store.queries.log import counts
from shopfloor.store.queries.photographs import photographs_that_count


@dataclass(frozen=True)
class BrokenTap:
    """One break as it is on record now. `lower` and `upper` bound the tap's holes; None: holes before unknown.

    `run` is the first id of the run in which it broke.
    """

    run: uuid.UUID
    at: datetime
    tap: str
    tap_type: str
    material: str
    rpm: int
    station: str | None
    job: str | None
    part: str | None
    fate: PartFate | None
    lower: int | None
    upper: int | None
    logged_holes: int
    cause: Cause
    account: str | None
    photographs: int


@dataclass(frozen=True)
class KnownLives:
    """How many lives of one tap type can be used, and how many of them failed."""

    code: str
    lives: int
    failures: int


@dataclass(frozen=True)
class KnownStretch:
    """One usable stretch of a life: whose, in what, and whether the life failed there."""

    life: tuple[int, int]
    material: int
    speed_band: str
    failed: bool


def breaks_since(session: Session, since: datetime | None) -> list[tuple[uuid.UUID, datetime, Cause]]:
    """Every break that counts since then (None: ever), the newest first: the run's first id, when, and the cause."""
    query = (
        select(Run.original_id, Run.ended_at, Incident.cause)
        .outerjoin(Incident, and_(Incident.run_id == Run.original_id, counts(Incident)))
        .where(Run.tap_end == TapEnd.BROKEN, counts(Run), *([] if since is None else [Run.ended_at >= since]))
        .order_by(Run.ended_at.desc(), Run.position.desc())
    )
    return [(run, at, cause or Cause.NOT_KNOWN) for run, at, cause in session.execute(query)]


def broken_taps(session: Session, runs: Collection[uuid.UUID]) -> Iterator[BrokenTap]:
    """The breaks in these runs, by their first ids, each with the current version of its incident."""
    query = (
        select(
            Run.original_id, Run.ended_at, Run.rpm, Run.part_fate, Tap.code.label("tap"),
            TapType.code.label("tap_type"), Material.name.label("material"),
            Station.name.label("station"), Job.code.label("job"), Job.part,
            TapLife.lower, TapLife.upper, TapLife.holes.label("logged_holes"), Incident.cause, Incident.account,
            photographs_that_count(Run.original_id).label("photographs"),
        )
        .join(Tap, Tap.id == Run.tap_id)
        .join(TapType, TapType.id == Tap.tap_type_id)
        .join(Material, Material.id == Run.material_id)
        # A broken tap is never reground, so its break ended its present life.
        .join(TapLife, and_(TapLife.tap_id == Tap.id, TapLife.is_present))
        .outerjoin(Station, Station.id == Run.station_id)
        .outerjoin(Job, Job.id == Run.job_id)
        .outerjoin(Incident, and_(Incident.run_id == Run.original_id, counts(Incident)))
        .where(Run.original_id.in_(runs), Run.tap_end == TapEnd.BROKEN, counts(Run))
    )  # fmt: skip
    for row in session.execute(query):
        yield BrokenTap(
            run=row.original_id,
            at=row.ended_at, tap=row.tap, tap_type=row.tap_type, material=row.material, rpm=row.rpm,
            station=row.station, job=row.job, part=row.part, fate=row.part_fate, lower=row.lower, upper=row.upper,
            logged_holes=row.logged_holes, cause=row.cause or Cause.NOT_KNOWN, account=row.account,
            photographs=row.photographs,
        )  # fmt: skip


def lives_by_tap_type(session: Session) -> list[KnownLives]:
    """Usable lives of each tap type that has any, by code."""
    query = (
        select(TapType.code, func.count(), func.count(TapLife.upper))
        .join(Tap, Tap.tap_type_id == TapType.id)
        .join(TapLife, TapLife.tap_id == Tap.id)
        .where(TapLife.lower.is_not(None))
        .group_by(TapType.code)
        .order_by(TapType.code)
    )
    return [KnownLives(*row) for row in session.execute(query)]


def usable_stretches(session: Session, tap_type: int, modes: Collection[Mode]) -> list[KnownStretch]:
    """Usable stretches of the lives of one tap type; `failed` by one of these modes."""
    columns = (
        LifeStretch.tap_id, LifeStretch.number, LifeStretch.material_id, LifeStretch.speed_band, LifeStretch.mode,
    )  # fmt: skip
    query = select(*columns).join(Tap, Tap.id == LifeStretch.tap_id)
    usable = query.where(Tap.tap_type_id == tap_type, LifeStretch.lower.is_not(None))
    return [
        KnownStretch((row.tap_id, row.number), row.material_id, row.speed_band, row.mode in modes)
        for row in session.execute(usable)
    ]


def tap_types_by_code(session: Session) -> dict[str, int]:
    """Every tap type's key by its code, in order of the codes."""
    return {row.code: row.id for row in session.execute(select(TapType.code, TapType.id).order_by(TapType.code))}


def materials(session: Session) -> dict[int, tuple[str, str]]:
    """Every material's code and name by its key."""
    return {row.id: (row.code, row.name) for row in session.execute(select(Material.id, Material.code, Material.name))}
