"""What a request may contain at all: storable characters, valid addresses, numbers that can be ids.

Anything else is answered here, before any look-up: no code contains a NUL, and not every database can even
be asked for one.
"""

from __future__ import annotations

from urllib.parse import SplitResult, urlsplit

from flask import Flask, request
from werkzeug.exceptions import BadRequest, NotFound
from werkzeug.routing import IntegerConverter

from shopfloor.core.input.reader import is_writable

_LARGEST_ID = 2**31 - 1
"""The largest id that a column holds on every database."""

_ADDRESSES = ("Origin", "Referer")


class IdConverter(IntegerConverter):
    """A number in an address that can be an id; any other gives 404."""

    def __init__(self, *arguments: object, **keywords: object) -> None:
        super().__init__(*arguments, **{"max": _LARGEST_ID, **keywords})  # type: ignore[arg-type]


def install(app: Flask) -> None:
    """Check requests before anything else does."""
    app.url_map.converters["int"] = IdConverter
    app.before_request(_refuse)


def parts_of(address: str) -> SplitResult | None:
    """The parts of an address; None if it is invalid, such as 'http://['."""
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
