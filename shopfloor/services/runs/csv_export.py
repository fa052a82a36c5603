"""Export of runs as CSV or as a workbook."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from datetime import datetime
from typing import Any, BinaryIO, TextIO

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.input.tap_entry import UNKNOWN
from shopfloor.core.vocabulary import MovementKind
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_columns import COLUMNS
from shopfloor.services.spreadsheets import write_csv, write_workbook
from shopfloor.store import Incident, Job, Material, Person, Run, Station, StockMovement, Tap
from shopfloor.store.queries.log import counts

_HEADINGS = [names[0] for names in COLUMNS.values()]


def export_runs(work: Work, out: TextIO) -> int:
    """Write every run that counts as CSV, oldest first; returns how many."""
    with work.read() as session:
        return write_csv(out, _HEADINGS, _rows(session))


def export_workbook(work: Work, out: BinaryIO) -> int:
    """Write every run that counts as a workbook, oldest first; returns how many."""
    with work.read() as session:
        return write_workbook(out, _HEADINGS, _rows(session))


def _rows(session: Session) -> Iterator[list[object]]:
    return ([row.get(name) for name in COLUMNS] for row in _exported(session))


def _regrinds(session: Session) -> dict[int, list[datetime]]:
    """When each tap came back from regrinding, in order."""
    query = select(StockMovement.tap_id, StockMovement.moved_at).where(
        StockMovement.kind == MovementKind.REGROUND, counts(StockMovement)
    )
    found: dict[int, list[datetime]] = {}
    for tap_id, at in session.execute(query.order_by(StockMovement.moved_at)):
        if tap_id is not None:
            found.setdefault(tap_id, []).append(at)
    return found


def _life_of(tap: Tap, regrinds: int) -> dict[str, Any]:
    """The tap as a file names it, where each regrind has its own code: in a file one code is one life."""
    if regrinds:
        return {"tap": f"{tap.code}-R{regrinds}", "holes_before": 0}
    return {"tap": tap.code, "holes_before": UNKNOWN if tap.holes_before is None else tap.holes_before}


def _exported(session: Session) -> Iterator[dict[str, Any]]:
    reground = _regrinds(session)
    rows = (
        select(Run, Tap, Material, Station.code, Person.code, Job.code, Incident.cause)
        .join(Tap, Run.tap_id == Tap.id)
        .join(Material, Run.material_id == Material.id)
        .outerjoin(Station, Run.station_id == Station.id)
        .outerjoin(Person, Run.person_id == Person.id)
        .outerjoin(Job, Run.job_id == Job.id)
        .outerjoin(Incident, (Incident.run_id == Run.original_id) & counts(Incident))
        .where(counts(Run))
        .order_by(Run.ended_at, Run.position)
        .execution_options(yield_per=1000)
    )
    for run, tap, material, station, person, job, cause in session.execute(rows):
        plain = {name: getattr(run, name) for name in COLUMNS if hasattr(run, name)}
        words = {
            name: plain[name] and plain[name].value for name in ("tap_end", "depth_control", "lubricant", "part_fate")
        }
        yield {
            **plain,
            **words,
            "when": run.ended_at.isoformat(),
            **_life_of(tap, bisect_right(reground.get(tap.id, []), run.ended_at)),
            "tap_type": tap.tap_type.code,
            "thread": tap.tap_type.thread,
            "material": material.code,
            "iso_group": material.iso_group and material.iso_group.value,
            "station": station,
            "person": person,
            "job": job,
            "cause": cause and cause.value,
        }
