"""Whether the log still tells the same: a few counts in place of all that it holds."""

from __future__ import annotations

from collections.abc import Hashable

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.store import Cancellation, GaugeCheck, Job, Material, Run, StockMovement, Tap, TapType
from shopfloor.store.queries.threaded import life_measure

Version = tuple[Hashable, ...]

_LOGGED = (Run, GaugeCheck, StockMovement, Cancellation)
_SAID = (
    (Job, (Job.is_blind, Job.hole_making, Job.is_reamed, Job.depth_mm)),
    (TapType, (TapType.thread, TapType.coating)),
    (Material, (Material.iso_group,)),
)


def version_of(session: Session) -> Version:
    """Equal for one database where lives and their conditions are.

    The log's tables only grow: as many rows are the same rows. What else lives rest on may be completed later: the few
    facts of jobs, tap types and materials are compared themselves, those of the many taps by sums that any of them
    changes.
    """
    counts = [select(func.count()).select_from(table).scalar_subquery() for table in (*_LOGGED, Tap)]
    taps = (Tap.id * (Tap.tap_type_id + Tap.regrinds), Tap.id * (1 + Tap.holes_before))
    sums = [select(func.sum(of_tap)).scalar_subquery() for of_tap in taps]
    said = [tuple(map(tuple, session.execute(select(table.id, *facts).order_by(table.id)))) for table, facts in _SAID]
    return (life_measure(session), *session.execute(select(*counts, *sums)).one(), *said)
