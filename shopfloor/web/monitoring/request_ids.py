"""Each request has a number: in every log line about it, in its answer, and on a page that reports an error."""

from __future__ import annotations

import secrets
from contextvars import ContextVar

from flask import Flask, Response

HEADER = "X-Request-Id"
NONE = "-"
"""What stands in place of a number outside of requests."""

_BYTES = 4
_current: ContextVar[str] = ContextVar("request id", default=NONE)


def install(app: Flask) -> None:
    """Number every request before anything else looks at it."""
    app.before_request(_begin)
    app.after_request(_tell)
    app.teardown_request(_end)


def request_id() -> str:
    """The number of the request that this thread answers."""
    return _current.get()


def _begin() -> None:
    _current.set(secrets.token_hex(_BYTES))


def _tell(response: Response) -> Response:
    response.headers[HEADER] = request_id()
    return response


def _end(_: BaseException | None) -> None:
    _current.set(NONE)
