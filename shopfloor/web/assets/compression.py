"""Compresses text sent over the shop's Wi-Fi, for clients that accept it."""

from __future__ import annotations

import gzip
from collections.abc import Mapping

import brotli
from flask import Flask, Response, request
from flask_compress import Compress

_TEXTS = ("text/html", "text/css", "text/javascript", "text/csv", "application/json", "image/svg+xml")
_ENCODINGS = ("br", "gzip")
"""Best first. Browsers accept Brotli only over https, where it saves a tenth of a page for the same work."""

_QUICK = {"br": 5, "gzip": 6}
_BEST = {"br": 11, "gzip": 9}


def install(app: Flask) -> None:
    """Compress what views return.

    Pages contain a form token. To learn anything from response sizes, another site would need requests with our cookie:
    it is SameSite=Lax, so such requests come without it.
    """
    app.config.update(
        COMPRESS_MIMETYPES=_TEXTS,
        COMPRESS_ALGORITHM=_ENCODINGS,
        COMPRESS_BR_LEVEL=_QUICK["br"],
        COMPRESS_LEVEL=_QUICK["gzip"],
        COMPRESS_STREAMS=False,  # static text files are compressed once, below
    )
    Compress(app)


def taken() -> str | None:
    """The best encoding that the client accepts, if any."""
    return request.accept_encodings.best_match(_ENCODINGS)


def smallest(body: bytes, encoding: str) -> bytes:
    """A frequently served body, compressed as far as the encoding goes."""
    return _compressed(body, encoding, _BEST)


def small(body: bytes, encoding: str) -> bytes:
    """A body so large that full compression would take many seconds."""
    return _compressed(body, encoding, _QUICK)


def marked(response: Response, encoding: str) -> Response:
    """Declare the body's encoding, and that it varies by client."""
    response.content_encoding = encoding
    response.headers.pop("ETag", None)  # it belongs to the uncompressed body
    response.vary.add("Accept-Encoding")
    return response


def _compressed(body: bytes, encoding: str, levels: Mapping[str, int]) -> bytes:
    if encoding == "br":
        return bytes(brotli.compress(body, quality=levels[encoding]))
    return gzip.compress(body, levels[encoding], mtime=0)
