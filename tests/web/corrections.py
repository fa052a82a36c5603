"""Forms that correct or cancel an entry, sent as they were drawn."""

from __future__ import annotations

import re
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse


def drawn(page: str, action: str) -> dict[str, Any]:
    """The fields of the form with this action, as the page drew them."""
    form = re.search(rf'<form[^>]*action="{re.escape(action)}".*?</form>', page, re.S)
    assert form is not None
    fields = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*type="(?:hidden|text)"[^>]*value="([^"]*)"', form[0]))
    fields |= dict(re.findall(r'<textarea[^>]*name="([^"]+)"[^>]*>\s*(.*?)</textarea>', form[0], re.S))
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form[0], re.S):
        fields[name] = (re.findall(r'<option selected value="([^"]*)"', options) or [""])[0]
    return fields | dict(re.findall(r'<input checked[^>]*name="([^"]+)"[^>]*type="radio" value="([^"]+)"', form[0]))


def cancellation(**fields: str) -> dict[str, str]:
    """The form that cancels an entry, filled in."""
    return {f"cancel-{name}": value for name, value in {"person": "ben", "reason": "another tap", **fields}.items()}


def correct(client: FlaskClient, address: str, **fields: str) -> TestResponse:
    """Correct an entry as its form was drawn, but for these fields."""
    return client.post(address, data=drawn(client.get(address).text, address) | {"person": "ben"} | fields)
