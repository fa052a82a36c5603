"""Which taps are in use, and what they did last."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, and_, func, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.vocabulary import TapState
from shopfloor.store import Job, Material, Run, Station, Tap, TapLife, TapType
from shopfloor.store.queries.log import counts

_OF_A_RUN = 8

IN_USE = and_(
    TapLife.is_present, TapLife.placed_at.is_not(None), TapLife.state.in_([TapState.UNUSED, TapState.IN_SERVICE])
)
"""A living tap that was fitted or used and not returned, even if the log does not say in which station."""


@dataclass(frozen=True)
class FittedTap:
    """A living tap in use. `entry` None: holes before unknown, `holes` are then those logged."""

    tap: int
    code: str
    tap_type: int
    type_code: str
    thread: str | None
    regrinds: int
    entry: int | None
    holes: int
    station: int | None
    station_code: str | None
    placed_at: datetime


@dataclass(frozen=True)
class PastRun:
    """A past run, from which the next one is predicted."""

    ended_at: datetime
    job_id: int | None
    job: str | None
    part: str | None
    material: int
    material_name: str
    rpm: int
    holes: int
    hole: HoleConditions


def fitted_taps(session: Session) -> list[FittedTap]:
    """Every living tap in use, by code."""
    columns: list[Any] = [
        Tap.id, Tap.code, Tap.tap_type_id, TapType.code, TapType.thread, TapLife.number, TapLife.first_entry,
        TapLife.holes, TapLife.station_id, Station.code, TapLife.placed_at,
    ]  # fmt: skip
    query = (
        select(*columns)
        .join(Tap, Tap.id == TapLife.tap_id)
        .join(TapType, TapType.id == Tap.tap_type_id)
        .outerjoin(Station, Station.id == TapLife.station_id)
        .where(IN_USE)
        .order_by(Tap.code)
    )
    return [FittedTap(*row) for row in session.execute(query)]


def last_runs_by_tap(session: Session, most: int, taps: Collection[int] | None = None) -> dict[int, list[PastRun]]:
    """The newest runs of some taps, or of every tap in use, at most `most` each, newest first."""
    which = select(TapLife.tap_id).where(IN_USE) if taps is None else taps
    found = _newest(session, most, [Run.tap_id], Run.tap_id.in_(which))
    return {key[0]: runs for key, runs in found.items()}


def last_runs_by_place(session: Session, most: int, at: int | None = None) -> dict[tuple[int, int], list[PastRun]]:
    """The newest runs of each (station, tap type), or those of one station, whatever tap made them, newest first."""
    here = Run.station_id.is_not(None) if at is None else Run.station_id == at
    return _newest(session, most, [Run.station_id, Tap.tap_type_id], here)


def _newest(session: Session, most: int, keys: list[Any], where: ColumnElement[bool]) -> dict[Any, list[PastRun]]:
    rank = func.row_number().over(partition_by=keys, order_by=[Run.ended_at.desc(), Run.position.desc()])
    inner = (
        select(Run.id, rank.label("place"), *(key.label(f"key_{n}") for n, key in enumerate(keys)))
        .join(Tap, Tap.id == Run.tap_id)
        .where(where, counts(Run))
        .subquery()
    )
    columns: list[Any] = [
        Run.ended_at, Run.job_id, Job.code, Job.part, Run.material_id, Material.name, Run.rpm, Run.holes,
        Run.lubricant, Job.is_blind, Job.hole_making, Job.is_reamed, Job.depth_mm,
        *(inner.c[f"key_{n}"] for n in range(len(keys))),
    ]  # fmt: skip
    query = (
        select(*columns)
        .join(inner, inner.c.id == Run.id)
        .join(Material, Material.id == Run.material_id)
        .outerjoin(Job, Job.id == Run.job_id)
        .where(inner.c.place <= most)
        .order_by(inner.c.place)
    )
    found: defaultdict[Any, list[PastRun]] = defaultdict(list)
    for values in session.execute(query):
        hole = HoleConditions.told(
            values.is_blind, values.hole_making, values.is_reamed, values.lubricant, values.depth_mm
        )
        run: list[Any] = [*values[:_OF_A_RUN], hole]
        found[tuple(values[-len(keys) :])].append(PastRun(*run))
    return dict(found)
