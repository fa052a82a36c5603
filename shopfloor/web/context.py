"""The application's work, reached from views."""

from __future__ import annotations

from flask import current_app

from shopfloor.services.record.work import Work

_KEY = "shopfloor"


def bind_work(app: object, work: Work) -> None:
    """Give the application its database, settings and clock."""
    app.extensions[_KEY] = work  # type: ignore[attr-defined]


def work() -> Work:
    """The work of the application that serves this request."""
    bound: Work = current_app.extensions[_KEY]
    return bound
