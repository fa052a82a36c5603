"""A picture from outside: decoded and encoded anew, upright, small, without anything but its pixels; or refused."""

from __future__ import annotations

import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFile

from shopfloor.core.errors import InputError
from shopfloor.services.quality import images
from shopfloor.services.quality.images import (
    LARGEST_BYTES,
    LONGEST_SIDE_PX,
    MOST_PIXELS,
    MOST_SCANS,
    PhotographTooLarge,
    as_photograph,
)
from tests.pictures import TURNED_RIGHT, encoded, noise, opened, photograph_with_a_place, picture

KINDS = ("JPEG", "PNG", "WEBP")
SEGMENTS = {0xE1: "EXIF or XMP", 0xE2: "ICC", 0xED: "IPTC", 0xFE: "comment"}


def segments(jpeg: bytes) -> list[int]:
    """The markers of a JPEG's segments up to its pixels (ITU-T T.81, B.1.1.4)."""
    assert b"\xff\xd8" == jpeg[:2]
    found, at = [], 2
    while jpeg[at + 1] != 0xDA:
        assert 0xFF == jpeg[at]
        found.append(jpeg[at + 1])
        at += 2 + int(struct.unpack(">H", jpeg[at + 2 : at + 4])[0])
    return found


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose head claims a size."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_becomes_a_jpeg(kind: str) -> None:
    """Of the same size, with the corner where it was."""
    made = opened(as_photograph(encoded(picture(), kind)))
    assert ("JPEG", "RGB", (640, 480)) == (made.format, made.mode, made.size)
    red, green, _ = made.getpixel((10, 10))  # type: ignore[misc]
    assert red > 180 > 80 > green


def test_nothing_but_pixels_is_kept() -> None:
    """No camera, time, place, thumbnail, remark: none of the segments that could hold one, nor any of their words."""
    sent = photograph_with_a_place()
    assert {0xE1, 0xFE} <= set(segments(sent))
    assert b"secret place" in sent
    made = as_photograph(sent)
    assert set() == set(segments(made)) & set(SEGMENTS)
    assert {} == dict(opened(made).getexif())
    for word in (b"secret", b"Maker", b"2026:03:02", b"Exif", b"GPS"):
        assert word not in made


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_notes_of_other_kinds_go_too(kind: str) -> None:
    """As EXIF in PNG and WebP."""
    exif = Image.Exif()
    exif[0x010F] = "Maker"
    sent = encoded(picture(), kind, exif=exif)
    assert b"Maker" in sent
    assert b"Maker" not in as_photograph(sent)


@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_a_tablet_held_upright_shows_the_tap_upright(kind: str) -> None:
    """What the camera only noted is done: turned clockwise, the corner that was at the left is at the right."""
    exif = Image.Exif()
    exif[0x0112] = TURNED_RIGHT
    made = opened(as_photograph(encoded(picture(), kind, exif=exif)))
    assert (480, 640) == made.size
    assert made.getpixel((470, 10))[0] > 180  # type: ignore[index]
    assert made.getpixel((10, 10))[0] < 100  # type: ignore[index]


def test_a_large_picture_is_scaled_down() -> None:
    """Its longest side to 1600 pixels, its shape kept."""
    made = opened(as_photograph(encoded(picture(4000, 2000))))
    assert (LONGEST_SIDE_PX, LONGEST_SIDE_PX // 2) == made.size


def test_whatever_it_shows_it_is_small_enough() -> None:
    """Noise, which no quality makes small, loses pixels; nothing is stored above the limit."""
    made = as_photograph(encoded(noise(1600, 1200), "WEBP", quality=1))
    assert len(made) <= LARGEST_BYTES
    assert 400 <= opened(made).width < 1600


def test_transparent_parts_become_white() -> None:
    """What is hidden below them is not shown."""
    hidden = picture(mode="RGBA")
    hidden.putalpha(0)
    assert (255, 255, 255) == opened(as_photograph(encoded(hidden, "PNG"))).getpixel((10, 10))


@pytest.mark.parametrize("mode", ["L", "P", "1", "CMYK", "LA", "I;16"])
def test_other_ways_to_hold_colours_are_read_or_refused(mode: str) -> None:
    """Grey, palettes, print colours; never an exception that nobody expects."""
    kind = "JPEG" if mode in ("L", "CMYK") else "PNG"
    drawn = Image.new("I;16", (64, 48), 900) if mode == "I;16" else picture(64, 48, mode)
    assert "RGB" == opened(as_photograph(encoded(drawn, kind))).mode


def test_too_many_bytes_are_refused_unread() -> None:
    """With the limit in words."""
    with pytest.raises(PhotographTooLarge, match="more than 500 kB"):
        as_photograph(b"x" * (LARGEST_BYTES + 1))


@pytest.fixture
def no_decoding(monkeypatch: pytest.MonkeyPatch) -> None:
    """A decoder that must not be asked."""

    def load(self: ImageFile.ImageFile) -> None:
        raise AssertionError("it was decoded")

    monkeypatch.setattr(ImageFile.ImageFile, "load", load)


@pytest.mark.usefixtures("no_decoding")
@pytest.mark.parametrize("side", [2001, 4000, 9500, 14_000, 60_000])
def test_a_bomb_is_refused_by_its_head(side: int) -> None:
    """A few hundred bytes that claim 4 million pixels and more, up to gigabytes, are not decoded."""
    assert side * side > MOST_PIXELS["PNG"]
    with pytest.raises(InputError, match=r"more than (4|16) million pixels"):
        as_photograph(png_that_claims(side, side))


@pytest.mark.usefixtures("no_decoding")
@pytest.mark.parametrize(("kind", "width"), [("JPEG", 4001), ("WEBP", 1001)])
def test_each_kind_is_refused_by_its_head(kind: str, width: int) -> None:
    """As many pixels as are decoded of its kind, and not one row more."""
    height = MOST_PIXELS[kind] // width + 1
    assert width * height > MOST_PIXELS[kind]
    with pytest.raises(InputError, match="million pixels"):
        as_photograph(encoded(Image.new("RGB", (width, height)), kind))


@pytest.mark.usefixtures("no_decoding")
def test_a_jpeg_of_endless_passes_is_refused_undecoded() -> None:
    """A few bytes a pass, each of which costs as much as a picture."""
    sent = encoded(picture(), progressive=True)
    last = sent[sent.rindex(b"\xff\xda") : -2]
    with pytest.raises(InputError, match="too many passes"):
        as_photograph(sent[:-2] + last * MOST_SCANS + sent[-2:])


def test_a_jpeg_in_passes_is_read() -> None:
    """As programs save it for the web."""
    assert (640, 480) == opened(as_photograph(encoded(picture(), progressive=True))).size


def test_one_is_decoded_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many are sent at once, so that they take no more memory than one."""
    at_work: list[int] = []
    most: list[int] = []

    def counted(found: Image.Image) -> Image.Image:
        at_work.append(1)
        most.append(len(at_work))
        made = decoded(found)
        at_work.pop()
        return made

    decoded = images._decoded
    monkeypatch.setattr(images, "_decoded", counted)
    with ThreadPoolExecutor(8) as senders:
        made = list(senders.map(as_photograph, [encoded(picture(1600, 1200))] * 16))
    assert (16, {1}) == (len(made), set(most))


def test_a_jpeg_that_is_a_page_too_loses_the_page() -> None:
    """HTML behind the pixels or in a remark, which some browser might find, is gone."""
    page = b"<html><script>alert(1)</script></html>"
    for sent in (encoded(picture()) + page, encoded(picture(), comment=page)):
        made = as_photograph(sent)
        assert b"script" not in made
        assert made.endswith(b"\xff\xd9")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GIF89a" + b"\0" * 50,
        encoded(picture(), "GIF"),
        encoded(picture(64, 48), "BMP"),
        encoded(picture(64, 48), "TIFF"),
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<html>" + encoded(picture()),
        b"%PDF-1.4",
        b"\xff\xd8\xff",
        encoded(picture())[:900],
        encoded(picture(), "PNG")[:200],
    ],
)
def test_what_is_no_picture_of_ours_is_refused(content: bytes) -> None:
    """Other kinds, pages, halves of pictures: with what would be right."""
    with pytest.raises(InputError, match="send a whole JPEG, PNG or WebP picture"):
        as_photograph(content)


WHOLE = {kind: encoded(picture(96, 64), kind) for kind in KINDS}


@given(st.sampled_from(KINDS), st.data())
def test_damaged_bytes_are_a_picture_or_a_refusal(kind: str, data: st.DataObject) -> None:
    """Whatever was changed or cut off on the way, nobody meets another exception."""
    content = bytearray(WHOLE[kind])
    for at, value in data.draw(st.lists(st.tuples(st.integers(0, len(content) - 1), st.integers(0, 255)), max_size=8)):
        content[at] = value
    cut: Any = data.draw(st.integers(0, len(content)))
    try:
        made = as_photograph(bytes(content[:cut]))
    except InputError:
        return
    assert "JPEG" == opened(made).format
