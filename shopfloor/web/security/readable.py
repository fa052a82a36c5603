"""What a request may bring at all: characters that can be written, addresses that are some, numbers that may be ids.

Whatever cannot be is answered here, before anything looks for it: no code holds a NUL, and not every database can even
be asked for one.
"""

from __future__ import annotations

from urllib.parse import SplitResult, urlsplit

from flask import Flask, request
from werkzeug.exceptions import BadRequest, NotFound
from werkzeug.routing import IntegerConverter

from shopfloor.core.input.reader import is_writable

_LARGEST_ID = 2**31 - 1
"""What a column of ids holds on every database."""

_ADDRESSES = ("Origin", "Referer")


class IdConverter(IntegerConverter):
    """A number in an address that may be an id; any other is no page."""

    def __init__(self, *arguments: object, **keywords: object) -> None:
        super().__init__(*arguments, **{"max": _LARGEST_ID, **keywords})  # type: ignore[arg-type]


def install(app: Flask) -> None:
    """Look before anything else does."""
    app.url_map.converters["int"] = IdConverter
    app.before_request(_refuse)


def parts_of(address: str) -> SplitResult | None:
    """The parts of an address; None where it is none, as 'http://['."""
    try:
        return urlsplit(address)
    except ValueError:
        return None


def _refuse() -> None:
    asked = (request.path, *(text for pair in request.args.items(multi=True) for text in pair))
    if not all(map(is_writable, asked)):
        raise NotFound
    if any(parts_of(request.headers.get(name, "")) is None for name in _ADDRESSES):
        raise BadRequest
