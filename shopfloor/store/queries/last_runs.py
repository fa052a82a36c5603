"""The last runs of jobs, at a station and elsewhere."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from functools import cache
from typing import Any

from sqlalchemy import Integer, Row, Select, Uuid, bindparam, func, literal, select, union_all
from sqlalchemy.orm import Session

from shopfloor.store import Run
from shopfloor.store.queries.log import counts

RUNS_READ = 20
"""For each job; enough to hold five batches."""

_SLOTS = (1, 4, 16, 64)
"""For how many jobs a statement is made; slots that are left over ask for no job."""

_JOBS_AT_ONCE = _SLOTS[-1]
"""SQLite takes up to 500 parts of a union."""

_NO_RUN = uuid.UUID(int=0)


def newest_runs(
    session: Session, jobs: Sequence[int], station: int, without: uuid.UUID | None, *, is_here: bool
) -> dict[int, list[Row[Any]]]:
    """The newest runs of each job at the station, or everywhere else, but for one run; newest first.

    Those of each job are found by index, however long the log is.
    """
    found: dict[int, list[Row[Any]]] = {}
    for start in range(0, len(jobs), _JOBS_AT_ONCE):
        some = jobs[start : start + _JOBS_AT_ONCE]
        slots = next(slots for slots in _SLOTS if slots >= len(some))
        asked: dict[str, Any] = {f"job_{slot}": None for slot in range(slots)}
        asked |= {f"job_{slot}": job for slot, job in enumerate(some)}
        asked |= {"station": station, "without": without or _NO_RUN}
        for row in session.execute(_newest_runs(slots, is_here=is_here), asked):
            found.setdefault(row.job_id, []).append(row)
    return found


@cache
def _newest_runs(slots: int, *, is_here: bool) -> Select[Any]:
    """The statement for up to so many jobs; made once, since SQLAlchemy needs longer for it than the database."""
    batch = func.coalesce(Run.batch_id, Run.id).label("batch")
    columns = (
        Run.job_id, Run.ended_at, Run.position, batch, Run.holes_made.label("holes"), Run.rpm, Run.depth_control,
        Run.lubricant, Run.confirmed, literal(is_here).label("is_here"),
    )  # fmt: skip
    station = bindparam("station", type_=Integer)
    where = Run.station_id == station if is_here else Run.station_id.is_(None) | (Run.station_id != station)
    newest = select(*columns).where(where, Run.id != bindparam("without", type_=Uuid), counts(Run))
    newest = newest.order_by(Run.ended_at.desc(), Run.position.desc()).limit(RUNS_READ)
    of_job = [newest.where(Run.job_id == bindparam(f"job_{slot}", type_=Integer)) for slot in range(slots)]
    together = union_all(*(select(one.subquery()) for one in of_job)).subquery()
    return select(together).order_by(together.c.job_id, together.c.ended_at.desc(), together.c.position.desc())
