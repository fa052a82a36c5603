"""What is typed about a batch, and what both the server and the tablet make of it."""

from __future__ import annotations

MADE: list[tuple[dict[str, str], int | None, int, int | None]] = [
    ({"holes": "48", "tap_end": "still good"}, 48, 48, 0),
    ({"holes": "48", "tap_end": "broken", "broke_at_hole": "27"}, 48, 27, 21),
    ({"holes": "40", "tap_end": "broken", "broke_at_hole": "27"}, 48, 27, 13),
    ({"holes": "27", "tap_end": "broken", "broke_at_hole": "27"}, 48, 27, 21),
    ({"holes": "60", "tap_end": "broken", "broke_at_hole": "27"}, 48, 27, 33),
    ({"holes": "48", "tap_end": "broken", "broke_at_hole": "48"}, 48, 48, 0),
    ({"holes": "48", "tap_end": "broken", "broke_at_hole": "48"}, None, 48, 0),
    ({"holes": "48", "tap_end": "broken"}, 48, 48, None),
    ({"holes": "30", "tap_end": "worn"}, 48, 30, 18),
    ({"holes": "48", "tap_end": "worn"}, 48, 48, 0),
    ({"holes": "60", "tap_end": "retired early"}, 48, 60, 0),
    ({"holes": "30", "tap_end": "chipped"}, None, 30, 0),
]
"""What was typed, the holes that were offered, the holes that the tap made, the rest of the batch (None: unknown)."""

BREAKS: list[tuple[dict[str, str], list[str]]] = [
    ({"broke_at_hole": "27", "part_fate": "scrapped"}, []),
    ({"hole_not_known": "y", "part_fate": "scrapped"}, []),
    ({"broke_at_hole": " 27 ", "part_fate": "good"}, []),
    ({"part_fate": "scrapped"}, ["broke_at_hole"]),
    ({"broke_at_hole": "  ", "part_fate": "scrapped"}, ["broke_at_hole"]),
    ({"broke_at_hole": "27", "hole_not_known": "y", "part_fate": "scrapped"}, ["broke_at_hole"]),
    ({"broke_at_hole": "0", "part_fate": "scrapped"}, ["broke_at_hole"]),
    ({"broke_at_hole": "48", "part_fate": "scrapped"}, []),
    ({"broke_at_hole": "49", "part_fate": "scrapped"}, ["broke_at_hole"]),
    ({"broke_at_hole": "27"}, ["part_fate"]),
    ({}, ["broke_at_hole", "part_fate"]),
    ({"tap_end": "worn"}, []),
    ({"tap_end": "worn", "hole_not_known": "y", "part_fate": "scrapped"}, []),
]
"""What was typed about a break (else of a batch of 48 in which the tap broke), and the fields that are wrong."""

LARGEST, FASTEST, SLIPS_A_HOLE = 5000, 20_000, 10
LIMITS: list[tuple[dict[str, str], list[str]]] = [
    ({"holes": "5000", "rpm": "20000", "cutting_slips": "50000"}, []),
    ({"holes": "5001"}, ["holes"]),
    ({"holes": "0"}, ["holes"]),
    ({"holes": ""}, ["holes"]),
    ({"holes": "000000000048"}, []),
    ({"rpm": "20001"}, ["rpm"]),
    ({"rpm": "0"}, ["rpm"]),
    ({"rpm": ""}, ["rpm"]),
    ({"cutting_slips": "50001"}, ["cutting_slips"]),
    ({"cutting_slips": "-1"}, ["cutting_slips"]),
    ({"cutting_slips": ""}, []),
]
"""What was typed (else a good batch of 48 at 300 rpm), and the fields that are wrong."""

ENDS = {
    "still good": ("still good", False),
    "worn": ("worn", True),
    "chipped": ("chipped", True),
    "broken": ("broken", True),
    "retired early": ("changed in time", True),
}
"""How a tap ended: what people read, and whether another tap has to go in."""

ONE, TWO = "0197b2c4-8a00-7000-8000-000000000001", "0197b2c4-8a00-7000-8000-000000000002"
Entry = tuple[str, str, int, bool]
SINCE: list[tuple[list[Entry], list[Entry], tuple[int | None, int]]] = [
    ([], [], (None, 200)),
    ([], [("arm", ONE, 10, False)], (10, 190)),
    ([("arm", ONE, 10, False)], [], (10, 190)),
    ([("arm", ONE, 10, False)], [("arm", TWO, 12, False)], (12, 178)),
    ([("arm", ONE, 10, False)], [("arm", ONE, 5, False)], (15, 185)),
    ([("arm", ONE, 10, False)], [("arm", TWO, 4, False), ("arm", TWO, 8, False)], (12, 178)),
    ([("arm", ONE, 10, False)], [("arm", ONE, 5, False), ("arm", TWO, 9, False)], (9, 176)),
    ([("arm", ONE, 10, False)], [("air", TWO, 30, False)], (10, 160)),
    ([], [("air", TWO, 30, False)], (None, 170)),
    ([("arm", ONE, 10, False)], [("arm", TWO, 100, True)], (10, 90)),
    ([("arm", ONE, 10, False)], [("arm", TWO, 190, True)], (10, 0)),
]
"""Runs that the server knew (station, batch, holes, whether the number was confirmed), runs since then, and what
follows at 'arm' of a job of 200 holes: the last batch and the holes left."""
