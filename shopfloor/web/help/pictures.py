"""The handbook's pictures, taken from the tool's own pages in each language by `tests/browser/help_pictures.py`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from PIL import Image

from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.assets.pages import static_address
from shopfloor.web.i18n.language import language

FOLDER = "help"
OF_THE_STATION = ("station", "broken-tap", "offline", "entries", "scan", "who")
"""The pictures of the pages that a tablet keeps."""


@dataclass(frozen=True)
class Picture:
    """A picture's address and size: a known size keeps the text in place while the picture loads."""

    address: str
    width: int
    height: int


def picture(name: str) -> Picture:
    """The picture of that name in the language of the page."""
    file = file_of(name, language())
    return Picture(static_address(file), *_size(file))


def file_of(name: str, code: str) -> str:
    """The static file of a picture in a language."""
    return f"{FOLDER}/{code}/{name}.webp"


@cache
def _size(file: str) -> tuple[int, int]:
    with Image.open(STATIC / file) as opened:
        return opened.size
