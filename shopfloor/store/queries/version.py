"""Whether the log is unchanged: a few counts in place of its whole content."""

from __future__ import annotations

from typing import Any, NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import IsoGroup, LifeMeasure
from shopfloor.store import Cancellation, GaugeCheck, Job, Material, Run, StockMovement, Tap, TapType
from shopfloor.store.queries.threaded import CHOSEN, measure_of

_LOGGED = (Run, GaugeCheck, StockMovement, Cancellation)


class Version(NamedTuple):
    """Equal if lives and their conditions are unchanged: counts, sums, and catalogue facts."""

    measure: LifeMeasure
    counts: tuple[int | None, ...]
    jobs: tuple[Any, ...]
    tap_types: tuple[tuple[int, str | None, str | None], ...]
    """Key, thread and coating of each."""
    materials: tuple[tuple[int, IsoGroup | None], ...]

    @property
    def entries(self) -> int:
        """Number of rows in the log's tables, which only grow."""
        return sum(count or 0 for count in self.counts[: len(_LOGGED)])


def version_of(session: Session) -> Version:
    """The current version of the log.

    The log's tables only grow: as many rows are the same rows. What else lives rest on may be completed later: the few
    facts of jobs, tap types and materials are compared themselves, those of the many taps by sums that any of them
    changes.
    """
    counts = [select(func.count()).select_from(table).scalar_subquery() for table in (*_LOGGED, Tap)]
    taps = (Tap.id * (Tap.tap_type_id + Tap.regrinds), Tap.id * (1 + Tap.holes_before))
    sums = [select(func.sum(of_tap)).scalar_subquery() for of_tap in taps]
    chosen, *figures = session.execute(select(CHOSEN.scalar_subquery(), *counts, *sums)).one()
    jobs = select(Job.id, Job.is_blind, Job.hole_making, Job.is_reamed, Job.depth_mm).order_by(Job.id)
    kinds = select(TapType.id, TapType.thread, TapType.coating).order_by(TapType.id)
    materials = select(Material.id, Material.iso_group).order_by(Material.id)
    return Version(
        measure_of(chosen), tuple(figures), tuple(map(tuple, session.execute(jobs))),
        tuple((key, thread, coating) for key, thread, coating in session.execute(kinds)),
        tuple((key, group) for key, group in session.execute(materials)),
    )  # fmt: skip
