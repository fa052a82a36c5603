"""Runs as a tablet or a program sends them."""

from __future__ import annotations

import json
import uuid
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

RUNS = "/sync/runs"


def run(**changes: Any) -> dict[str, Any]:
    """A run of 48 good holes."""
    sent: dict[str, Any] = {
        "id": str(uuid.uuid4()), "when": "2026-03-02T09:00:30+01:00", "device_time": "2026-03-02T09:00:31+01:00",
        "person": "ada", "station": "arm-1", "job": "J-1", "tap": "T0001", "rpm": 300, "holes": 48,
        "cutting_slips": 1, "depth_control": "depth stop", "lubricant": "mist", "tap_end": "still good",
    }  # fmt: skip
    return sent | changes


def send(client: FlaskClient, body: object, **headers: str) -> TestResponse:
    """Send a body, as JSON where it is not text or bytes already."""
    content = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(RUNS, data=content, headers={"Content-Type": "application/json"} | headers)


def problems(answer: TestResponse) -> list[str]:
    """The fields that an answer complains about."""
    assert answer.json is not None
    assert all({"field", "what", "remedy"} == set(problem) for problem in answer.json["problems"])
    return [problem["field"] for problem in answer.json["problems"]]
