"""The log as events: what counts now, by tap, as the core expects it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from functools import cache, lru_cache

from sqlalchemy import ColumnElement, and_, exists, null, select, type_coerce, union_all
from sqlalchemy.orm import Session, aliased
from sqlalchemy.orm.util import identity_key

from shopfloor.core.floor.cutting import CuttingConditions, speed_band
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.floor.tap_lives import Event, GaugeReading, LoggedRun, Movement
from shopfloor.core.threads import find_thread
from shopfloor.core.vocabulary import GaugeResult, HoleMaking, Lubricant
from shopfloor.store import Cancellation, GaugeCheck, GaugeIncident, Incident, Job, Run, StockMovement, Tap

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
    for start in range(0, len(ids), _TAPS_AT_ONCE):
        yield from _events_of(session, ids[start : start + _TAPS_AT_ONCE])


def _events_of(session: Session, tap_ids: list[int]) -> Iterator[tuple[Tap, list[Event]]]:
    events: defaultdict[int, list[Event]] = defaultdict(list)
    taps = _taps(session, tap_ids)
    kinds = {tap.id: (tap.tap_type_id, tap.tap_type.thread) for tap in taps}
    for tap_id, run in _runs(session, tap_ids, kinds):
        events[tap_id].append(run)
    for tap_id, event in _readings_and_movements(session, tap_ids):
        events[tap_id].append(event)
    for tap in taps:
        yield tap, events[tap.id]


def _taps(session: Session, tap_ids: list[int]) -> list[Tap]:
    """The taps in this order; those that the session has already are not read again."""
    known = {key: session.identity_map.get(identity_key(Tap, key)) for key in tap_ids}
    found = {key: tap for key, tap in known.items() if tap is not None}
    missing = [key for key in tap_ids if key not in found]
    if missing:
        found |= {tap.id: tap for tap in session.scalars(select(Tap).where(Tap.id.in_(missing)))}
    return [found[key] for key in tap_ids if key in found]


def _readings_and_movements(session: Session, tap_ids: list[int]) -> Iterator[tuple[int, Event]]:
    """Gauge checks and movements in one statement.

    Movements of one instant are taken in the order of booking, as the ledger takes them.
    """
    nothing = null()
    checks = select(
        GaugeCheck.tap_id, GaugeCheck.checked_at.label("at"), GaugeCheck.recorded_at.label("booked_at"),
        GaugeCheck.result.label("result"), type_coerce(nothing, StockMovement.kind.type).label("kind"),
        type_coerce(nothing, StockMovement.station_id.type).label("station"),
    ).where(GaugeCheck.tap_id.in_(tap_ids), counts(GaugeCheck))  # fmt: skip
    moves = select(
        StockMovement.tap_id, StockMovement.moved_at, StockMovement.recorded_at,
        type_coerce(nothing, GaugeCheck.result.type), StockMovement.kind, StockMovement.station_id,
    ).where(StockMovement.tap_id.in_(tap_ids), counts(StockMovement))  # fmt: skip
    both = union_all(checks, moves).subquery()
    for tap_id, at, _, result, kind, station in session.execute(select(both).order_by(both.c.at, both.c.booked_at)):
        yield tap_id, Movement(at, kind, station) if result is None else GaugeReading(at, result is GaugeResult.PASSED)


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
