"""Numbers as people type them into a batch, what is usual there, and what server and tablet ask back."""

from __future__ import annotations

from typing import Any

NOTHING: dict[str, Any] = {"batch": None, "left": None, "rpm": None}
USUAL: dict[str, Any] = {"batch": 18, "left": 200, "rpm": 400}

DOUBTED: list[tuple[dict[str, str], dict[str, Any], list[tuple[str, str, str]]]] = [
    ({"holes": "18"}, USUAL, []),
    ({"holes": "1812"}, NOTHING, []),
    ({"holes": "54"}, USUAL, []),
    ({"holes": "55"}, USUAL, [("holes=55", "55? Usual on this job: 18", "55 holes")]),
    ({"holes": "1812"}, USUAL, [("holes=1812", "1,812? Usual on this job: 18", "1,812 holes")]),
    ({"holes": "200"}, {**USUAL, "batch": 90}, []),
    ({"holes": "201"}, {**USUAL, "batch": 90}, [("holes=201", "201? Left to make on this job: 200", "201 holes")]),
    ({"holes": "1"}, {**USUAL, "left": 0}, [("holes=1", "1? Left to make on this job: 0", "1 hole")]),
    ({"holes": "18"}, {**USUAL, "left": -1}, []),
    ({"holes": "120"}, {**USUAL, "offered": 120}, []),
    ({"holes": "121"}, {**USUAL, "offered": 120}, [("holes=121", "121? Usual on this job: 18", "121 holes")]),
    ({"holes": "119"}, {**USUAL, "offered": 120}, [("holes=119", "119? Usual on this job: 18", "119 holes")]),
    ({"holes": "18", "cutting_slips": "9"}, USUAL, []),
    (
        {"holes": "18", "cutting_slips": "10"},
        USUAL,
        [("cutting_slips=10", "10 on 18 holes? That is more than one in two", "10 cutting slips")],
    ),
    ({"holes": "18", "cutting_slips": "10", "slip_holes": "1 1 2 2 3 3 4 4 5 5"}, USUAL, []),
    ({"holes": "18", "cutting_slips": ""}, USUAL, []),
    (
        {"holes": "18", "cutting_slips": "2", "tap_end": "broken", "broke_at_hole": "3"},
        USUAL,
        [("cutting_slips=2", "2 on 3 holes? That is more than one in two", "2 cutting slips")],
    ),
    ({"holes": "18", "rpm": "800"}, USUAL, []),
    ({"holes": "18", "rpm": "200"}, USUAL, []),
    ({"holes": "18", "rpm": "4000"}, NOTHING, []),
    ({"holes": "18", "rpm": "801"}, USUAL, [("rpm=801", "801? Last time: 400", "801 rpm")]),
    ({"holes": "18", "rpm": "199"}, USUAL, [("rpm=199", "199? Last time: 400", "199 rpm")]),
    (
        {"holes": "1812", "cutting_slips": "1000", "rpm": "4000"},
        USUAL,
        [
            ("holes=1812", "1,812? Usual on this job: 18", "1,812 holes"),
            ("cutting_slips=1000", "1,000 on 1,812 holes? That is more than one in two", "1,000 cutting slips"),
            ("rpm=4000", "4,000? Last time: 400", "4,000 rpm"),
        ],
    ),
]
"""What was typed (else a good batch at 400 rpm), what is usual, and of each number in doubt: mark, question, answer."""
