"""The columns of a file of runs."""

from __future__ import annotations

from collections.abc import Sequence

COLUMNS: dict[str, Sequence[str]] = {
    "when": ("when", "date", "time", "ended at"),
    "tap": ("tap", "tap code"),
    "tap_type": ("tap type", "type"),
    "material": ("material",),
    "rpm": ("rpm", "speed rpm"),
    "holes": ("holes", "holes tapped"),
    "tap_end": ("tap end", "how the tap ended", "end", "ended", "tap state", "state"),
    "id": ("id",),
    "device_time": ("device time",),
    "person": ("person", "operator", "who"),
    "station": ("station",),
    "job": ("job",),
    "thread": ("thread",),
    "cutting_slips": ("cutting slips", "slips"),
    "slip_holes": ("slip holes",),
    "depth_control": ("depth control",),
    "lubricant": ("lubricant",),
    "broke_at_hole": ("broke at hole", "broke at"),
    "part_fate": ("part fate", "part"),
    "cause": ("cause", "likely cause"),
    "note": ("note",),
    "batch_id": ("batch", "batch id"),
    "confirmed": ("confirmed",),
    "holes_before": ("holes before",),
    "iso_group": ("iso group",),
}
"""Field -> accepted headings; the first is the one that `export` writes."""

REQUIRED = ("when", "tap", "tap_type", "material", "rpm", "holes", "tap_end")
