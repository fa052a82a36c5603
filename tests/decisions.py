"""Cases of the decision about a tap that the server and the tablet without network must decide alike."""

from __future__ import annotations

PLAIN = {"change_at": 509, "early": (440, 400, 350, 300), "late": (560, 600, 650, 740), "stop": 0.1}
MILD = {"change_at": 509, "early": (440, 400, 350, 300, 200, 120, 80), "late": (), "stop": 0.3}
STEPS = {"change_at": 100, "early": (100, 100, 90), "late": (100, 101, 130), "stop": 0.0}
SHARP = {"change_at": 509, "early": (509,) * 7, "late": (509,) * 7, "stop": 0.0}
NONE = {"change_at": None, "early": (), "late": (), "stop": 0.0}

CASES = [
    (PLAIN, 0, 40, "carry on"),
    (PLAIN, 508, 1, "change after"),
    (PLAIN, 509, 1, "change now"),
    (PLAIN, 700, 40, "change now"),
    (PLAIN, 0, 1000, "change within"),
    (PLAIN, 330, 400, "change within"),
    (PLAIN, 341, 400, "change now"),
    (PLAIN, 440, 200, "change now"),
    (PLAIN, 480, 40, "change after"),
    (PLAIN, 500, 60, "change after"),
    (PLAIN, 500, 90, "change now"),
    (PLAIN, 440, 100, "change after"),
    (PLAIN, 440, 40, "carry on"),
    (PLAIN, 390, 115, "change after"),
    (PLAIN, 300, 130, "carry on"),
    (MILD, 0, 5000, "change after"),
    (MILD, 400, 40, "carry on"),
    (STEPS, 95, 6, "change within"),
    (STEPS, 99, 2, "change within"),
    (STEPS, 80, 20, "change after"),
    (SHARP, 469, 40, "change after"),
    (SHARP, 470, 40, "change within"),
    (SHARP, 469, 39, "carry on"),
    (NONE, 900, 40, "run on"),
]
"""(when it is best changed, holes made, holes of the batch, what to do)."""
