"""The station page's form, drawn, filled and sent."""

from __future__ import annotations

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.web.markup import typed

STATION = "/operator/arm-1/"


def form(client: FlaskClient, **changes: str) -> dict[str, str]:
    """The page's form as it was drawn, filled with an ordinary batch but for the changes."""
    page = client.get(STATION)
    names = ("id", "batch_id", "offered", "person", "job", "tap", "rpm", "cutting_slips")
    drawn = {name: typed(page, name) for name in names}
    return drawn | {"holes": "48", "tap_end": "still good"} | changes


def save(client: FlaskClient, **changes: str) -> TestResponse:
    """Save an ordinary batch but for the changes."""
    return client.post(STATION, data=form(client, **changes))
