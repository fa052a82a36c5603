"""Makes what goes over the shop's Wi-Fi small: text is sent compressed to whoever takes it so."""

from __future__ import annotations

import gzip

from flask import Flask, Response, request

_TEXTS = frozenset({"text/html", "text/css", "text/javascript", "text/csv", "application/json", "image/svg+xml"})
_SMALLEST = 500
"""Bytes below which an answer fits into one packet anyhow."""

_QUICK, _BEST = 6, 9


def install(app: Flask) -> None:
    """Compress what a view has drawn.

    A page holds a form token, and what a page of another site could learn from sizes it would need our cookie for:
    that is SameSite=Lax, so such a request is a stranger's.
    """
    app.after_request(_compress)


def taken() -> bool:
    """Whether the one who asks takes gzip."""
    return request.accept_encodings.quality("gzip") > 0


def smallest(body: bytes) -> bytes:
    """A body that is served often, as small as gzip makes it."""
    return gzip.compress(body, _BEST, mtime=0)


def marked(response: Response) -> Response:
    """Say that the body is compressed, and that others may get it otherwise."""
    response.content_encoding = "gzip"
    response.headers.pop("ETag", None)  # which names the other body
    response.vary.add("Accept-Encoding")
    return response


def _compress(response: Response) -> Response:
    if response.mimetype not in _TEXTS or response.direct_passthrough or response.is_streamed:
        return response
    if "Content-Encoding" in response.headers:
        return response
    response.vary.add("Accept-Encoding")
    body = response.get_data()
    if len(body) >= _SMALLEST and taken():
        response.set_data(gzip.compress(body, _QUICK, mtime=0))
        marked(response)
    return response
