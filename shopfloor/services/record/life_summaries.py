"""Keeps the summary tables in step with the log; nothing else writes to them."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.suspect_runs import suspicions
from shopfloor.core.floor.tap_lives import Life, Observation, Stretch, lives_of_tap
from shopfloor.services.record.work import Work
from shopfloor.store import GaugeFailure, LifeStretch, Tap, TapLife
from shopfloor.store.engine import hold, put
from shopfloor.store.queries.gauges import failed_taps, first_ids, moments_by_tap
from shopfloor.store.queries.generations import outdate_generations
from shopfloor.store.queries.log import events_by_tap
from shopfloor.store.queries.output import recount

Progress = Callable[[int, int], None]
_TAPS_AT_ONCE = 500


def refresh(session: Session, tap_ids: Collection[int], *, newest: datetime | None = None) -> None:
    """Recompute the lives of these taps in the session's own transaction.

    `newest`: when the one event that was added happened. If all others came before it, no row falls away.

    Raises
    ------
    LifeConflict    the log would contradict itself; the caller's transaction is then rolled back
    """
    hold(session, Tap, tap_ids)
    session.flush()
    lives: list[dict[str, Any]] = []
    stretches: list[dict[str, Any]] = []
    is_longer = newest is not None
    for tap, events in events_by_tap(session, tap_ids):
        is_longer = newest is not None and is_longer and sum(event.at >= newest for event in events) == 1
        of_tap = lives_of_tap(tap.holes_before, tap.regrinds, events)
        for life in of_tap:
            lives.append(_life_row(tap.id, life, is_present=life is of_tap[-1]))
            stretches += [_stretch_row(tap, life, i, stretch) for i, stretch in enumerate(life.stretches)]
    if not is_longer:
        session.execute(delete(LifeStretch).where(LifeStretch.tap_id.in_(tap_ids)))
        session.execute(delete(TapLife).where(TapLife.tap_id.in_(tap_ids)))
    put(session, TapLife, lives)
    put(session, LifeStretch, stretches)
    if not is_longer:
        _put_failures(session, tap_ids)


def _put_failures(session: Session, tap_ids: Collection[int]) -> None:
    """The failed gauge checks of these taps; a run that comes after all of them changes none."""
    session.execute(delete(GaugeFailure).where(GaugeFailure.tap_id.in_(tap_ids)))
    failed = failed_taps(session, tap_ids)
    if not failed:
        return
    first = first_ids(session, failed)
    rows = [
        {"check_id": first[check], "opened_by": first[one.check], "tap_id": tap, "failed_at": one.at}
        for tap, moments in moments_by_tap(session, failed).items()
        for one in suspicions(moments)
        for check in (one.check, *one.again)
    ]
    put(session, GaugeFailure, rows)


def rebuild(work: Work, progress: Progress = lambda done, total: None) -> int:
    """Recompute every tap's lives, the output and the crib's stock; returns the number of taps."""
    with work.write() as session:
        ids = list(session.scalars(select(Tap.id).order_by(Tap.id)))
        for start in range(0, len(ids), _TAPS_AT_ONCE):
            refresh(session, ids[start : start + _TAPS_AT_ONCE])
            progress(min(start + _TAPS_AT_ONCE, len(ids)), len(ids))
        recount(session)
        outdate_generations(session)
    return len(ids)


def _observed(observation: Observation | None) -> dict[str, Any]:
    if observation is None:
        return {"entry": None, "lower": None, "upper": None, "mode": None}
    return asdict(observation)


def _life_row(tap_id: int, life: Life, *, is_present: bool) -> dict[str, Any]:
    return {
        "tap_id": tap_id,
        "number": life.number,
        "is_present": is_present,
        "first_entry": life.entry,
        "holes": life.holes,
        "cutting_slips": life.cutting_slips,
        "runs": life.runs,
        "state": life.state,
        "station_id": life.station,
        "placed_at": life.placed_at,
        "first_at": life.first_at,
        "last_at": life.last_at,
        **_observed(life.observation),
    }


def _stretch_row(tap: Tap, life: Life, ordinal: int, stretch: Stretch) -> dict[str, Any]:
    return {
        "tap_id": tap.id,
        "number": life.number,
        "ordinal": ordinal,
        "tap_type_id": tap.tap_type_id,
        "material_id": stretch.cutting.material,
        "speed_band": stretch.cutting.speed_band,
        "is_blind": stretch.hole.is_blind,
        "hole_making": stretch.hole.making,
        "lubricant": stretch.hole.lubricant,
        "depth_mm": stretch.hole.depth_mm,
        "start": stretch.start,
        "end": stretch.end,
        "cutting_slips": stretch.cutting_slips,
        "slip_holes": stretch.slip_holes,
        "breaks": stretch.breaks,
        "runs": stretch.runs,
        "first_at": stretch.first_at,
        "last_at": stretch.last_at,
        **_observed(stretch.observation),
    }
