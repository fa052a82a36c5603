"""Puts a simulated scenario into a migrated, empty database, in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from sqlalchemy import insert, select

from seed.rows import Run
from seed.simulate import Scenario
from shopfloor import store
from shopfloor.services.record.life_summaries import Progress, rebuild
from shopfloor.services.record.work import Work
from shopfloor.services.shop import mark_as_demo

Ids = Mapping[type[Any], Mapping[str, int]]


def load(work: Work, scenario: Scenario, progress: Progress = lambda done, total: None) -> None:
    """Store every row of the scenario and calculate all tap lives."""
    with work.write() as session:
        mark_as_demo(session, scenario.zone.key)
        ids: dict[type[Any], Mapping[str, int]] = {}

        def put(table: type[Any], rows: list[dict[str, Any]]) -> None:
            session.execute(insert(table), rows)
            if hasattr(table, "code"):
                ids[table] = {row.code: row.id for row in session.execute(select(table.code, table.id))}

        put(store.TapType, [asdict(row) for row in scenario.tap_types])
        put(store.Material, [asdict(row) for row in scenario.materials])
        put(store.Station, [asdict(row) for row in scenario.stations])
        put(store.Person, [{"code": row.code, "name": row.name} for row in scenario.people])
        put(store.PersonRole, [_role(ids, row.code, role) for row in scenario.people for role in row.roles])
        put(store.Tap, [_linked(ids, asdict(row)) for row in scenario.taps])
        put(store.Job, [_linked(ids, asdict(row)) for row in scenario.jobs])
        put(store.Run, [_run(ids, row, n) for n, row in enumerate(scenario.runs)])
        put(store.Run, [_correction(ids, scenario, row) for row in scenario.corrections])
        put(store.Cancellation, [_cancellation(ids, row) for row in scenario.cancellations])
        put(store.GaugeCheck, [_recorded(ids, asdict(row), row.checked_at) for row in scenario.gauge_checks])
        put(store.Incident, [_recorded(ids, asdict(row), row.reported_at) for row in scenario.incidents])
        put(store.StockMovement, [_recorded(ids, asdict(row), row.moved_at) for row in scenario.movements])
    rebuild(work, progress)


_LINKS: dict[str, type[Any]] = {
    "tap_type": store.TapType,
    "material": store.Material,
    "station": store.Station,
    "person": store.Person,
    "tap": store.Tap,
    "job": store.Job,
}


def _linked(ids: Ids, row: dict[str, Any]) -> dict[str, Any]:
    """The row with codes replaced by ids."""
    plain = {name: value or None if name in ("note", "account") else value for name, value in row.items()}
    links = {f"{name}_id": ids[_LINKS[name]].get(plain.pop(name) or "") for name in _LINKS if name in plain}
    return {**plain, **links}


def _recorded(ids: Ids, row: dict[str, Any], at: Any) -> dict[str, Any]:
    linked = _linked(ids, row)
    return {**linked, "recorded_at": at, "recorded_by_id": linked["person_id"]}


def _role(ids: Ids, code: str, role: Any) -> dict[str, Any]:
    return {"person_id": ids[store.Person][code], "role": role}


def _run(ids: Ids, row: Run, position: int) -> dict[str, Any]:
    linked = _linked(ids, asdict(row))
    return {**linked, "original_id": row.id, "position": position, "recorded_by_id": linked["person_id"]}


def _correction(ids: Ids, scenario: Scenario, row: Any) -> dict[str, Any]:
    position = next(n for n, run in enumerate(scenario.runs) if run.id == row.run_id)
    return {
        **_run(ids, row.corrected, position),
        "original_id": row.run_id,
        "supersedes_id": row.run_id,
        "reason": row.reason,
        "recorded_at": row.at,
        "recorded_by_id": ids[store.Person][row.by],
    }


def _cancellation(ids: Ids, row: Any) -> dict[str, Any]:
    return {
        "entry_id": row.run_id,
        "entry_table": "run",
        "cancelled_at": row.at,
        "cancelled_by_id": ids[store.Person][row.by],
        "reason": row.reason,
    }
