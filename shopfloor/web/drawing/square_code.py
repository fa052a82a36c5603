"""Square codes (QR) as a path for an SVG drawing."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import segno

_QUIET = 4
"""Empty modules around the code, without which scanners do not find it (ISO/IEC 18004)."""


@dataclass(frozen=True)
class SquareCode:
    """The drawing: `side` modules wide and high with the quiet zone, `path` the dark ones."""

    side: int
    path: str


def square_code(text: str) -> SquareCode:
    """The code of a text, which a scanner reads even where a quarter of it is dirty or scratched."""
    rows = segno.make_qr(text, error="q").matrix
    runs = [
        f"M{start + _QUIET} {y + _QUIET}h{length}v1h-{length}z"
        for y, row in enumerate(rows)
        for start, length in _dark(row)
    ]
    return SquareCode(len(rows) + 2 * _QUIET, "".join(runs))


def _dark(row: bytearray) -> list[tuple[int, int]]:
    """First module and length of each stretch of dark modules."""
    stretches = [
        (is_dark, [x for x, _ in group]) for is_dark, group in groupby(enumerate(row), key=lambda pair: pair[1])
    ]
    return [(places[0], len(places)) for is_dark, places in stretches if is_dark]
