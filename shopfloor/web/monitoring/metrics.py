"""Counts and times of requests, and the state of the server, in the text format of Prometheus.

Requests are counted by page, never by address, which may hold what somebody entered. The figures are told to programs
on this computer, and to the addresses that the settings name: they say how much a shop works, and when.
"""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable

from flask import Blueprint, Flask, Response, current_app, g, request
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    disable_created_metrics,
    generate_latest,
)
from werkzeug.exceptions import Forbidden

import shopfloor
from shopfloor.core.phrases import phrase
from shopfloor.services.advice.lag import lag_s
from shopfloor.services.health import is_ready
from shopfloor.services.record.work import UNREACHABLE, Work
from shopfloor.services.upkeep.timer import backup_age_s
from shopfloor.settings import networks_named
from shopfloor.web.context import work
from shopfloor.web.i18n.language import say
from shopfloor.web.security.address import is_from

SECONDS = (0.01, 0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4)
"""Upper ends of the classes of time to answer."""

FILES = frozenset(("static_file", "plotly_script"))
"""Counted, but without a line in the log: browsers fetch dozens of them with a page."""

METHODS = frozenset(("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"))

_KEY = "shopfloor metrics"
_NO_PAGE = "no such page"
_log = logging.getLogger(__name__)

blueprint = Blueprint("monitoring", __name__)

# When a counter began says nothing that its own value does not, and would double the figures.
disable_created_metrics()  # type: ignore[no-untyped-call]


class Metrics:
    """What one application counts."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "shopfloor_requests",
            "Answered requests.",
            ["page", "method", "status"],
            registry=self.registry,
        )
        self.seconds = Histogram(
            "shopfloor_request_seconds", "Time to answer.", ["page"], buckets=SECONDS, registry=self.registry
        )
        self.ready = Gauge("shopfloor_ready", "1 if an entry could be stored now, else 0.", registry=self.registry)
        self.lag = Gauge(
            "shopfloor_estimator_lag_seconds",
            "Since when the oldest entry that the estimates do not know has been on record; 0 if there is none.",
            registry=self.registry,
        )
        self.backup_age = Gauge(
            "shopfloor_backup_age_seconds",
            "Since the newest daily backup; infinite if there is none, not a number if none is asked for.",
            registry=self.registry,
        )
        version = Gauge("shopfloor_version", "1, with the version.", ["version"], registry=self.registry)
        version.labels(shopfloor.__version__).set(1)


def install(app: Flask) -> None:
    """Count and time every request of the application."""
    app.extensions[_KEY] = Metrics()
    app.before_request(_begin)
    app.after_request(_count)


@blueprint.get("/metrics")
def metrics() -> Response:
    """All figures, for Prometheus."""
    if not is_from(networks_named(work().settings.metrics_from)):
        told = phrase("Figures are for programs on this computer and for the addresses in SHOPFLOOR_METRICS_FROM.")
        return Response(f"{say(told)}\n", Forbidden.code, mimetype="text/plain")
    known = _metrics()
    known.ready.set(is_ready(work()))
    known.lag.set(_unless_unreachable(lag_s))
    known.backup_age.set(backup_age_s(work()))
    return Response(generate_latest(known.registry), content_type=CONTENT_TYPE_LATEST)


def _unless_unreachable(figure: Callable[[Work], float]) -> float:
    """The figure; not a number while the database cannot be reached."""
    try:
        return figure(work())
    except UNREACHABLE:
        return math.nan


def _metrics() -> Metrics:
    known: Metrics = current_app.extensions[_KEY]
    return known


def _begin() -> None:
    g.begun_at = time.perf_counter()


def _count(response: Response) -> Response:
    known, page = _metrics(), request.endpoint or _NO_PAGE
    seconds = time.perf_counter() - g.get("begun_at", time.perf_counter())
    # A method is whatever the client says; each other one would be a new figure.
    method = request.method if request.method in METHODS else "other"
    known.requests.labels(page, method, response.status_code).inc()
    known.seconds.labels(page).observe(seconds)
    if page not in FILES:
        _log.info("%s %s: %d in %d ms", method, page, response.status_code, round(1000 * seconds))
    return response
