"""Square codes hold what they should: read back module by module, as a scanner would."""

from __future__ import annotations

import re

import pytest

from shopfloor.web.drawing.labels import square_code

ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
QUIET = 4
MASKS = (
    lambda y, x: (y + x) % 2 == 0,
    lambda y, x: y % 2 == 0,
    lambda y, x: x % 3 == 0,
    lambda y, x: (y + x) % 3 == 0,
    lambda y, x: (y // 2 + x // 3) % 2 == 0,
    lambda y, x: y * x % 2 + y * x % 3 == 0,
    lambda y, x: (y * x % 2 + y * x % 3) % 2 == 0,
    lambda y, x: ((y + x) % 2 + y * x % 3) % 2 == 0,
)
"""The patterns that are laid over the data (ISO/IEC 18004:2015, table 10)."""


def side_of(drawing: str) -> int:
    """How many modules the drawing is wide and high, with the quiet zone."""
    box = re.search(r'viewBox="0 0 (\d+) \1"', drawing)
    assert box is not None
    return int(box[1])


def modules(drawing: str) -> list[list[bool]]:
    """The drawing as rows of dark and light modules, without the quiet zone, which must be empty.

    Its strokes are one module high, each begins where the one before ended.
    """
    side = side_of(drawing)
    rows = [[False] * side for _ in range(side)]
    x, middle = 0, 0.0
    for across, down, length in re.findall(r"[Mm](-?[\d.]+) (-?[\d.]+)h(\d+)", drawing):
        x, middle = x + int(across), middle + float(down)
        rows[int(middle)][x : x + int(length)] = [True] * int(length)
        x += int(length)
    inner = [row[QUIET:-QUIET] for row in rows[QUIET:-QUIET]]
    assert sum(map(sum, rows)) == sum(map(sum, inner))
    return inner


def is_pattern(y: int, x: int, side: int) -> bool:
    """Whether a module belongs to a finder, a timing line, the format or the one small square of version 2."""
    corner = (y < 9 and (x < 9 or x >= side - 8)) or (y >= side - 8 and x < 9)
    aligning = side == 25 and abs(y - 18) < 3 and abs(x - 18) < 3
    return corner or aligning or 6 in (y, x)


def data_bits(rows: list[list[bool]]) -> str:
    """The bits in the order of reading: two columns at a time from the right, up and down in turn."""
    side = len(rows)
    told = [rows[8][x] for x in range(5)]
    mask = MASKS[int("".join(str(int(bit)) for bit in told), 2) ^ 0b10101 & 0b111]
    columns = [x for x in range(side - 1, 0, -2) if x > 6] + [5, 3, 1]
    places = [
        (side - 1 - step if number % 2 == 0 else step, x - half)
        for number, x in enumerate(columns)
        for step in range(side)
        for half in (0, 1)
    ]
    return "".join(str(int(rows[y][x] ^ mask(y, x))) for y, x in places if not is_pattern(y, x, side))


def read(drawing: str) -> str:
    """The text of a small code of capital letters and digits (versions 1 and 2)."""
    bits = data_bits(modules(drawing))
    assert "0010" == bits[:4], "not the mode of capital letters and digits"
    length, bits = int(bits[4:13], 2), bits[13:]
    pairs = [divmod(int(bits[11 * n : 11 * n + 11], 2), 45) for n in range(length // 2)]
    text = "".join(ALPHANUMERIC[first] + ALPHANUMERIC[second] for first, second in pairs)
    rest = bits[11 * (length // 2) :][:6]
    return text + (ALPHANUMERIC[int(rest, 2)] if length % 2 else "")


@pytest.mark.parametrize("text", ["$TT000137", "$JJ100237", "$SARM142", "ABCDEFGHIJKLMNOPQRS1"])
def test_the_drawing_reads_back(text: str) -> None:
    """What a scanner finds in the drawing is the text, of which nothing moves on another keyboard."""
    assert text == read(square_code(text))


def test_small_codes_stay_small() -> None:
    """A tap's code needs the smallest square: 21 modules and the quiet zone."""
    assert 29 == side_of(square_code("$TT000137"))


def test_a_drawing_is_small_and_keeps_to_the_content_policy() -> None:
    """Under 1 kB, since a sheet holds 300 of them, without a style or handler of its own."""
    drawing = square_code("$TT000137")
    assert None is re.search(r"style|\son\w+=|<script", drawing)
    assert len(drawing) < 1000
