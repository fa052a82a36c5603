"""Headers of every answer, and CSRF protection."""

from __future__ import annotations

from flask import Flask, Response, g
from flask_wtf.csrf import CSRFProtect

csrf = CSRFProtect()

_BASE = "default-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
_PLAIN = _BASE
# Plotly writes styles into the page and draws heat maps as data images.
_CHART = f"{_BASE}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:"


def install(app: Flask) -> None:
    """Guard forms and set the headers."""
    csrf.init_app(app)
    app.after_request(_set_headers)


def allow_chart() -> None:
    """Relax this answer's content security policy as far as a chart needs."""
    g.has_chart = True


def _set_headers(response: Response) -> Response:
    headers = response.headers
    headers.setdefault("Content-Security-Policy", _CHART if g.get("has_chart") else _PLAIN)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    # The camera reads labels; no other device feature is used.
    headers.setdefault("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
    headers.setdefault("Referrer-Policy", "same-origin")
    if response.mimetype in ("text/html", "application/json"):
        headers.setdefault("Cache-Control", "no-store")
    return response
