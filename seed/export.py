"""Writes the scenario as files: one CSV a table, and the truth as JSON."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from seed.shop import TAP_TYPE
from seed.simulate import Scenario
from seed.tables import Row, tables
from seed.truth import Circumstances, TrueWeibull
from shopfloor.core.floor.cutting import speed_band, surface_speed_m_min
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import HoleMaking, Word


def write_files(scenario: Scenario, folder: Path) -> list[Path]:
    """Write every table and the truth into `folder`, creating it if necessary; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = [_write_table(folder / f"{name}.csv", rows, scenario.zone) for name, rows in tables(scenario).items()]
    truth = folder / "truth.json"
    text = json.dumps(truth_of(scenario), indent=1, ensure_ascii=False)
    truth.write_text(f"{text}\n", encoding="utf-8", newline="\n")
    return [*written, truth]


def truth_of(scenario: Scenario) -> dict[str, Any]:
    """The truth as JSON values: the parameters, and the lives they imply in each condition of the log."""
    kinds = {tap.code: tap.tap_type for tap in scenario.taps}
    making = {job.code: job.hole_making for job in scenario.jobs}
    runs = scenario.standing_runs()
    conditions = {(kinds[run.tap], run.material, run.rpm, run.station, making[run.job]) for run in runs}
    return {
        "shop": scenario.shop_name,
        "parameters": scenario.truth.as_json(),
        "conditions": [_condition(scenario, *condition) for condition in sorted(conditions)],
    }


def _condition(
    scenario: Scenario, kind: str, material: str, rpm: int, station: str, making: HoleMaking
) -> dict[str, Any]:
    """The true lives of a new tap of mean frailty in one condition."""
    diameter_mm = major_diameter_mm(TAP_TYPE[kind].thread)
    speed = surface_speed_m_min(diameter_mm, rpm)
    is_misaligned = station == scenario.truth.misaligned_station
    circumstances = Circumstances(is_laser_cut=making is HoleMaking.LASER, is_misaligned=is_misaligned)
    life = scenario.truth.life(TAP_TYPE[kind], material, speed, circumstances)
    return {
        "tap type": kind,
        "material": material,
        "station": station,
        "hole making": making.value,
        "rpm": rpm,
        "surface speed m/min": round(speed, 2),
        "speed band": speed_band(rpm, diameter_mm).label,
        "break": _weibull(life.breakage),
        "wear": _weibull(life.wear),
    }


def _weibull(life: TrueWeibull) -> dict[str, float]:
    return {"shape": life.shape, "scale": round(life.scale, 1)}


def _write_table(path: Path, rows: Sequence[Row], zone: ZoneInfo) -> Path:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(rows[0])
        writer.writerows([_cell(value, zone) for value in row.values()] for row in rows)
    return path


def _cell(value: Any, zone: ZoneInfo) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case Word():
            return str(value.value)
        case datetime():
            return value.astimezone(zone).isoformat(timespec="seconds")
        case date():
            return value.isoformat()
        case tuple():
            return ", ".join(_cell(part, zone) for part in value)
    return str(value)
