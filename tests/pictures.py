"""Pictures as tablets and others may send them, drawn in code."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from PIL import Image

UPRIGHT, TURNED_RIGHT = 1, 6
"""Values of the EXIF tag Orientation (CIPA DC-008-2019, 4.6.5): 6 is shown turned by 90 degrees clockwise."""


def picture(width: int = 640, height: int = 480, mode: str = "RGB") -> Image.Image:
    """A dark ground with a red corner at the top left, an eighth of each side."""
    drawn = Image.new("RGB", (width, height), (40, 44, 50))
    drawn.paste((220, 30, 30), (0, 0, width // 8, height // 8))
    return drawn.convert(mode)


def noise(width: int, height: int, seed: int = 1) -> Image.Image:
    """A picture that hardly any encoder can make small."""
    values = np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)
    return Image.fromarray(values)


def encoded(drawn: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    """The bytes of a picture file."""
    written = BytesIO()
    drawn.save(written, kind, **options)
    return written.getvalue()


def photograph_with_a_place(**options: Any) -> bytes:
    """A JPEG as a telephone makes it: camera, time and place in EXIF, notes in XMP and in a comment, a thumbnail."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0132] = "Maker", "Model", "2026:03:02 08:00:00"
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 8.0, 14.0), 3: "E", 4: (11.0, 34.0, 31.0)})
    given = {"exif": exif, "xmp": b"<x:xmpmeta>secret place</x:xmpmeta>", "comment": b"secret remark", **options}
    return encoded(picture(), **given)


def opened(content: bytes) -> Image.Image:
    """The picture that these bytes are."""
    found = Image.open(BytesIO(content))
    found.load()
    return found
