"""Re-encode an uploaded picture: decoded, turned upright, stripped of everything but its pixels, saved as JPEG.

None of the uploaded bytes are kept, so neither the location in its metadata nor a page hidden in it survives.
"""

from __future__ import annotations

import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

from PIL import Image, ImageOps

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import phrase

LARGEST_BYTES = 500_000
"""Size limit of a photograph in bytes, both as sent and as stored."""

LONGEST_SIDE_PX = 1600
"""Longest side in pixels: a broken tap that fills a quarter of the picture still has 400."""

FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
"""Accepted kinds of pictures, by media type."""

MOST_PIXELS = {"JPEG": 16_000_000, "PNG": 4_000_000, "WEBP": 4_000_000}
"""Limit on width times height by kind: a small file can claim dimensions that would fill the memory.

A JPEG is decoded no larger than it will be, the others as they are. No photograph of more fits into LARGEST_BYTES.
"""

MOST_SCANS = 30
"""Limit on the scans of a progressive JPEG, each of which costs as much as a picture; cameras use 10."""

_START_OF_SCAN = b"\xff\xda"

_DECODER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="pictures")
"""Decodes one picture at a time, in a thread of its own: many at once take no more memory than one, and what one took
serves the next, where each thread that asks would keep as much for itself."""

_QUALITIES = (88, 78, 68, 55)
_SHRINKS = 0.75

_UNREADABLE = (
    OSError, EOFError, SyntaxError, ValueError, TypeError, LookupError, ArithmeticError, struct.error, zlib.error,
)  # fmt: skip
"""What the decoders raise for bytes that are not a whole picture of their kind."""

_BOMBS = (Image.DecompressionBombError, Image.DecompressionBombWarning, MemoryError)


class PhotographTooLarge(InputError):
    """A photograph has too many bytes, which can be said without reading it."""

    def __init__(self) -> None:
        what = phrase("it has more than {n} kB", n=LARGEST_BYTES // 1000)
        super().__init__([Problem("photograph", what, "take it again on this tablet, which makes it small enough")])


def as_photograph(content: bytes) -> bytes:
    """The picture as a JPEG of at most LARGEST_BYTES, upright, in RGB, without metadata; the first of several frames.

    Raises
    ------
    PhotographTooLarge    more than LARGEST_BYTES
    InputError            too many pixels, no picture of a known kind, a damaged one
    """
    if len(content) > LARGEST_BYTES:
        raise PhotographTooLarge
    try:
        return _DECODER.submit(_made_anew, content).result()
    except InputError:
        raise
    except _BOMBS:
        raise _too_many_pixels(max(MOST_PIXELS.values())) from None
    except _UNREADABLE:
        remedy = "send a whole JPEG, PNG or WebP picture"
        raise InputError.of("photograph", "it cannot be read as a picture, or is damaged", remedy) from None


def _made_anew(content: bytes) -> bytes:
    # The first bytes alone decide: the media type given by the sender is not trusted.
    with Image.open(BytesIO(content), formats=tuple(FORMATS.values())) as found:
        _must_be_small(found, content)
        return _encoded(_decoded(found))


def _must_be_small(found: Image.Image, content: bytes) -> None:
    """Check what the file's header claims, before any pixel is decoded."""
    most = MOST_PIXELS[found.format or ""]
    if found.width * found.height > most:
        raise _too_many_pixels(most)
    if found.format == "JPEG" and content.count(_START_OF_SCAN) > MOST_SCANS:
        what, remedy = "it is encoded in too many passes", "save it as a plain JPEG"
        raise InputError.of("photograph", what, remedy)


def _too_many_pixels(most: int) -> InputError:
    what = phrase("it has more than {n} million pixels", n=most // 1_000_000)
    return InputError.of("photograph", what, "take it with fewer, or scale it down")


def _decoded(found: Image.Image) -> Image.Image:
    """The pixels, scaled down and upright."""
    # A JPEG need not be decoded larger than it will be.
    found.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    found.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    ImageOps.exif_transpose(found, in_place=True)
    return _plain(found)


def _plain(found: Image.Image) -> Image.Image:
    """The pixels alone, with transparency on white: a new picture has none of the old one's metadata."""
    plain = Image.new("RGB", found.size, "white")
    if found.has_transparency_data:
        layer = found.convert("RGBA")
        plain.paste(layer, mask=layer.getchannel("A"))
    else:
        plain.paste(found.convert("RGB"))
    return plain


def _encoded(picture: Image.Image) -> bytes:
    """The best JPEG that is small enough: first lower quality, then fewer pixels."""
    while True:
        for quality in _QUALITIES:
            written = BytesIO()
            picture.save(written, "JPEG", quality=quality, optimize=True)
            if written.tell() <= LARGEST_BYTES:
                return written.getvalue()
        width, height = (max(1, int(side * _SHRINKS)) for side in picture.size)
        picture = picture.resize((width, height), Image.Resampling.LANCZOS)
