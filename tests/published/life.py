"""Reads the published cases of this folder, and turns those of life data into lives.

The JSON files hold, for each case, its inputs, `expected` (recomputed to 8 digits), `published` (as printed), its
source and how the figures were come by (`origin`).
"""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

from shopfloor.core.survival.censored_data import Lives

FOLDER = Path(__file__).parent
Case = dict[str, Any]
Row = tuple[float, float, float, float]


def case(file: str, name: str) -> Case:
    """One case of 'life', 'replacement' or 'rates' by its id."""
    return next(c for c in json.loads((FOLDER / f"{file}.json").read_text("utf-8")) if c["id"] == name)


def table(file: str) -> list[dict[str, str]]:
    """A CSV file of this folder."""
    with (FOLDER / file).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def lives_of(data: Case) -> Lives:
    """The lives of a case, in whichever of the layouts it is written."""
    rows: list[Row] = []
    if "file" in data:
        rows = [seen(float(r["time"]), float(r["status"]) == 1) for r in table(data["file"])]
    elif "entry_exit_event" in data:
        rows = [seen(end, bool(event), entry) for entry, end, event in data["entry_exit_event"]]
    elif "exit" in data:
        rows = [seen(*row) for row in zip(data["exit"], data["event"], data["entry"], strict=True)]
    elif "time" in data:
        rows = [seen(time, bool(event)) for time, event in zip(data["time"], data["event"], strict=True)]
    elif "exact" in data:
        rows = [seen(age, True, entry) for age, entry in data["exact"]]
        rows += [seen(age, False, entry) for age, entry in data["right_censored"]]
        rows += [(low, high, entry, 1) for low, high, entry in data["interval"]]
    else:
        rows = [(age, age, 0, count) for age, count in data.get("failures", [])]
        rows += [(0, high, 0, count) for high, count in data.get("left_censored", [])]
        rows += [(low, high, 0, count) for low, high, count in data.get("interval", [])]
        rows += [(age, math.inf, 0, count) for age, count in data["right_censored"]]
    lower, upper, entry, count = zip(*rows, strict=True)
    return Lives.of(lower, upper, entry, count=count)


def seen(age: float, failed: bool, entry: float = 0) -> Row:
    """A life followed from entry to this age, failed there or not."""
    return age, (age if failed else math.inf), entry, 1


def lives_with_causes(data: Case) -> Lives:
    """The lives of a case of competing causes; cause 0 is censored."""
    ages = [age for age, _ in data["time_cause"]]
    causes = [cause for _, cause in data["time_cause"]]
    upper = [age if cause else math.inf for age, cause in data["time_cause"]]
    return Lives.of(ages, upper, mode=[data["cause_names"][str(c)] if c else "" for c in causes])
