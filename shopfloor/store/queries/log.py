"""The log as events: what counts now, by tap, as the core expects it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from functools import cache, lru_cache

from sqlalchemy import ColumnElement, and_, exists, select
from sqlalchemy.orm import Session, aliased

from shopfloor.core.floor.cutting import CuttingConditions, speed_band
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.floor.tap_lives import Event, GaugeReading, LoggedRun, Movement
from shopfloor.core.threads import find_thread
from shopfloor.core.vocabulary import GaugeResult, HoleMaking, Lubricant
from shopfloor.store import Cancellation, GaugeCheck, GaugeIncident, Incident, Job, Run, StockMovement, Tap, TapType

EntryTable = type[Run] | type[GaugeCheck] | type[GaugeIncident] | type[Incident] | type[StockMovement]

Holes = tuple[bool | None, HoleMaking | None, bool | None, Lubricant | None, float | None]
"""As `HoleConditions.told` takes them."""

_TAPS_AT_ONCE = 500
_CONDITIONS_KEPT = 4096
_THREADS_KEPT = 1024


@cache
def counts(entry: EntryTable) -> ColumnElement[bool]:
    """SQL condition that a row counts: neither superseded nor cancelled. Cached, since pages use it many times."""
    later = aliased(entry)
    return and_(
        ~exists().where(later.supersedes_id == entry.id).correlate(entry),
        ~exists().where(Cancellation.entry_id == entry.id).correlate(entry),
    )


def cutting_conditions(tap_type: int, thread: str | None, material: int, rpm: float | None) -> CuttingConditions:
    """Those of a tap type in a material at a spindle speed; None: at any speed."""
    return CuttingConditions(tap_type, material, None if rpm is None else band_at(rpm, thread))


def band_at(rpm: float, thread: str | None) -> str:
    """Label of a tap's speed band; the text of its thread gives the diameter, or not."""
    return speed_band(rpm, _diameter_of(thread)).label


@lru_cache(maxsize=_THREADS_KEPT)
def _diameter_of(thread: str | None) -> float | None:
    found = find_thread(thread) if thread else None
    return found.major_mm if found else None


def events_by_tap(session: Session, tap_ids: Collection[int]) -> Iterator[tuple[Tap, list[Event]]]:
    """Each of the taps with every event of its life that counts."""
    ids = sorted(tap_ids)
    threads = {row.id: row.thread for row in session.execute(select(TapType.id, TapType.thread))}
    for start in range(0, len(ids), _TAPS_AT_ONCE):
        yield from _events_of(session, ids[start : start + _TAPS_AT_ONCE], threads)


def _events_of(
    session: Session, tap_ids: list[int], threads: dict[int, str | None]
) -> Iterator[tuple[Tap, list[Event]]]:
    events: defaultdict[int, list[Event]] = defaultdict(list)
    taps = session.scalars(select(Tap).where(Tap.id.in_(tap_ids)).order_by(Tap.id)).all()
    kinds = {tap.id: (tap.tap_type_id, threads[tap.tap_type_id]) for tap in taps}
    for tap_id, event in _runs(session, tap_ids, kinds):
        events[tap_id].append(event)
    checks = select(GaugeCheck.tap_id, GaugeCheck.checked_at, GaugeCheck.result)
    for tap_id, at, result in session.execute(checks.where(GaugeCheck.tap_id.in_(tap_ids), counts(GaugeCheck))):
        events[tap_id].append(GaugeReading(at, result is GaugeResult.PASSED))
    moves = select(StockMovement.tap_id, StockMovement.moved_at, StockMovement.kind, StockMovement.station_id)
    # Movements of one instant are taken in the order of booking, as the ledger takes them.
    in_order = moves.order_by(StockMovement.moved_at, StockMovement.recorded_at)
    for moved_id, at, kind, station in session.execute(
        in_order.where(StockMovement.tap_id.in_(tap_ids), counts(StockMovement))
    ):
        if moved_id is not None:
            events[moved_id].append(Movement(at, kind, station))
    for tap in taps:
        yield tap, events[tap.id]


def _runs(
    session: Session, tap_ids: list[int], kinds: dict[int, tuple[int, str | None]]
) -> Iterator[tuple[int, LoggedRun]]:
    columns = (
        Run.tap_id, Run.ended_at, Run.position, Run.material_id, Run.rpm, Run.holes, Run.cutting_slips, Run.tap_end,
        Run.broke_at_hole, Run.station_id, Run.lubricant, Job.is_blind, Job.hole_making, Job.is_reamed, Job.depth_mm,
    )  # fmt: skip
    query = select(*columns).outerjoin(Job, Job.id == Run.job_id).where(Run.tap_id.in_(tap_ids), counts(Run))
    for row in session.execute(query):
        holes = (row.is_blind, row.hole_making, row.is_reamed, row.lubricant, row.depth_mm)
        yield (
            row.tap_id,
            LoggedRun(
                at=row.ended_at,
                position=row.position,
                cutting=_cutting(*kinds[row.tap_id], row.material_id, row.rpm),
                holes=row.holes,
                cutting_slips=row.cutting_slips,
                tap_end=row.tap_end,
                broke_at_hole=row.broke_at_hole,
                station=row.station_id,
                hole=_hole(holes),
            ),
        )


_cutting = lru_cache(maxsize=_CONDITIONS_KEPT)(cutting_conditions)
"""The same object for the many runs that were made so."""


@lru_cache(maxsize=_CONDITIONS_KEPT)
def _hole(said: Holes) -> HoleConditions:
    return HoleConditions.told(*said)
