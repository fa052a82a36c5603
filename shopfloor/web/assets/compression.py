"""Makes what goes over the shop's Wi-Fi small: text is sent compressed to whoever takes it so."""

from __future__ import annotations

import gzip
from collections.abc import Mapping

import brotli
from flask import Flask, Response, request
from flask_compress import Compress

_TEXTS = ("text/html", "text/css", "text/javascript", "text/csv", "application/json", "image/svg+xml")
_ENCODINGS = ("br", "gzip")
"""The best first. Browsers take Brotli over https alone, where it saves a tenth of a page for as much work."""

_QUICK = {"br": 5, "gzip": 6}
_BEST = {"br": 11, "gzip": 9}


def install(app: Flask) -> None:
    """Compress what a view has drawn.

    A page holds a form token, and what a page of another site could learn from sizes it would need our cookie for:
    that is SameSite=Lax, so such a request is a stranger's.
    """
    app.config.update(
        COMPRESS_MIMETYPES=_TEXTS,
        COMPRESS_ALGORITHM=_ENCODINGS,
        COMPRESS_BR_LEVEL=_QUICK["br"],
        COMPRESS_LEVEL=_QUICK["gzip"],
        COMPRESS_STREAMS=False,  # a file that is sent as text has its compressed form made once, below
    )
    Compress(app)


def taken() -> str | None:
    """The best encoding that the one who asks takes, if any."""
    return request.accept_encodings.best_match(_ENCODINGS)


def smallest(body: bytes, encoding: str) -> bytes:
    """A body that is served often, as small as the encoding makes it."""
    return _compressed(body, encoding, _BEST)


def small(body: bytes, encoding: str) -> bytes:
    """A body so large that making it as small as can be would take many seconds."""
    return _compressed(body, encoding, _QUICK)


def marked(response: Response, encoding: str) -> Response:
    """Say how the body is compressed, and that others may get it otherwise."""
    response.content_encoding = encoding
    response.headers.pop("ETag", None)  # which names the other body
    response.vary.add("Accept-Encoding")
    return response


def _compressed(body: bytes, encoding: str, levels: Mapping[str, int]) -> bytes:
    if encoding == "br":
        return bytes(brotli.compress(body, quality=levels[encoding]))
    return gzip.compress(body, levels[encoding], mtime=0)
