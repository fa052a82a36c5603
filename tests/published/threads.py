"""Printed figures of threads and drills, read from the CSV files of this folder.

Sources: threads_unified: ASME B1.1. threads_metric: ISO 724, 965-1, 898-1. threads_metric_6h_pitch: limits for ISO 6H
in a public table of taps. threads_metric_tolerances: ISO 965-1, tables 3 and 6; the diameter stands for its group.
threads_g: ISO 228-1. threads_npt: ASME B1.20.1. drills_gauge: ASME B94.11M. drills_tap_inch: Machinery's Handbook.
drills_tap_metric: ISO 2306.

Columns called how: a, read in a public page (of G, major and minor; pitch diameters of G: c); b, computed from the
standard's formula; c, from memory of the named publication.
"""

from __future__ import annotations

from tests.published.life import table

Row = dict[str, str]

UNIFIED, METRIC = table("threads_unified.csv"), table("threads_metric.csv")
METRIC_6H_PITCH, TOLERANCES = table("threads_metric_6h_pitch.csv"), table("threads_metric_tolerances.csv")
G, NPT = table("threads_g.csv"), table("threads_npt.csv")
GAUGE = table("drills_gauge.csv")
TAP_DRILLS_INCH, TAP_DRILLS_METRIC = table("drills_tap_inch.csv"), table("drills_tap_metric.csv")


def half_unit(printed: str) -> float:
    """How far a value may lie from its printed form: half a unit of the last digit."""
    return 0.5000001 * 10.0 ** -len(printed.partition(".")[2])


def size_of(row: Row) -> str:
    """The name of a row's thread, for the test's id."""
    return row["size"]
