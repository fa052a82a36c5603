"""The scenario's tables for readers: file name, headings, values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from seed.marks import ShankMarks
from seed.rows import Run, Tap, TapType
from seed.shop import TAP_TYPE
from seed.simulate import Scenario

Row = Mapping[str, Any]

_HEADINGS = {
    "run_id": "run",
    "is_blind": "blind",
    "is_open": "open",
    "depth_mm": "depth mm",
    "drilled_mm": "drilled mm",
    "drill_depth_mm": "drilled depth mm",
    "is_chamfered": "chamfered",
    "is_reamed": "reamed",
    "torque_nm": "torque N m",
    "largest_p": "largest thread in P",
    "largest_m": "largest thread in M",
    "largest_n": "largest thread in N",
    "iso_group": "ISO group",
    "hardness_hb": "hardness HB",
    "rpm_min": "lowest rpm",
    "rpm_max": "highest rpm",
    "received_at": "received",
    "batch_id": "batch",
    "ended_at": "when",
    "checked_at": "when",
    "reported_at": "when",
    "moved_at": "when",
}
_ONLY_IN_THE_LOG = ("id", "recorded_at")


def tables(scenario: Scenario) -> dict[str, Sequence[Row]]:
    """File name -> rows, each from heading to value; taps carry their shank mark."""
    marks = ShankMarks(scenario.movements)
    kinds = {tap.code: TAP_TYPE[tap.tap_type] for tap in scenario.taps}
    return {
        "tap_types": [_plain(row) for row in scenario.tap_types],
        "taps": [_tap(life) for tap in scenario.taps for life in marks.lives(tap)],
        "materials": [_plain(row) for row in scenario.materials],
        "stations": [_plain(row) for row in scenario.stations],
        "people": [_plain(row) for row in scenario.people],
        "jobs": [_plain(row) for row in scenario.jobs],
        "runs": [_run(row, kinds[row.tap], marks) for row in scenario.standing_runs()],
        "corrections": _corrections(scenario),
        "cancellations": [_plain(row) for row in scenario.cancellations],
        "gauge_checks": [_plain(row) | {"tap": marks.at(row.tap, row.checked_at)} for row in scenario.gauge_checks],
        "incidents": [_plain(row) for row in scenario.incidents],
        "movements": [_plain(row) | {"tap": row.tap and marks.at(row.tap, row.moved_at)} for row in scenario.movements],
    }


def _tap(tap: Tap) -> Row:
    return _plain(tap) | {"holes before": "unknown" if tap.holes_before is None else tap.holes_before}


def _run(run: Run, kind: TapType, marks: ShankMarks) -> Row:
    """A run in the columns of a log that the tool imports."""
    row = _plain(run)
    tap = {"tap": marks.at(run.tap, run.ended_at), "tap type": kind.code, "thread": kind.thread}
    first = {name: row.pop(name) for name in ("id", "when", "device time", "person", "station", "job")}
    del row["tap"], row["recorded at"]
    return {**first, **tap, **row}


def _corrections(scenario: Scenario) -> list[Row]:
    """One row for each corrected value."""
    first = {run.id: run for run in scenario.runs}
    return [
        {
            "run": correction.corrected.id,
            "first logged as": correction.run_id,
            "column": _heading(name),
            "first value": getattr(first[correction.run_id], name),
            "corrected value": getattr(correction.corrected, name),
            "reason": correction.reason,
            "by": correction.by,
            "at": correction.at,
        }
        for correction in scenario.corrections
        for name in _changed(first[correction.run_id], correction.corrected)
    ]


def _changed(first: Run, corrected: Run) -> list[str]:
    names = [field.name for field in fields(Run) if field.name not in _ONLY_IN_THE_LOG]
    return [name for name in names if getattr(first, name) != getattr(corrected, name)]


def _plain(row: Any) -> dict[str, Any]:
    return {_heading(field.name): getattr(row, field.name) for field in fields(row)}


def _heading(name: str) -> str:
    return _HEADINGS.get(name, name.replace("_", " "))
