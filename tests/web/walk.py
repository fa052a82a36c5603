"""Every page that a link leads to, and the forms on it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

STARTS = ("/", "/new", "/operator/", "/operator/arm-1/", "/operator/offline", "/crib/", "/quality/", "/setup/")
TYPED = "qqq"
"""Stands for whatever a person types."""


def pages(client: FlaskClient) -> Iterator[tuple[str, TestResponse]]:
    """Every page that a link leads to, one of each kind."""
    client.post("/operator/arm-1/person", data={"person": "ada"})
    client.post("/operator/arm-1/job", data={"job": "J-1"})
    known: set[str] = set()
    waiting = [*STARTS, "/crib/taps/T0002"]
    while waiting:
        address = waiting.pop(0)
        if kind(address) in known or address.startswith(("/language", "/static")):
            continue
        known.add(kind(address))
        answer = client.get(address, headers={"Accept-Language": "es"})
        if answer.status_code == 303:
            waiting.append(answer.headers["Location"])
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue
        yield address, answer
        waiting += [unescape(found) for found in re.findall(r'href="(/[^"#]*)"', answer.text)]


def kind(address: str) -> str:
    """The address without what tells one thing from another."""
    return re.sub(r"=[^&]*", "=", re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}|T000[2-9]|J-\d", "X", address))


def forms(page: str) -> Iterator[tuple[str, dict[str, str]]]:
    """The action of each form of a page, and its fields as they are drawn; what is hidden begins with a blank."""
    for form in re.findall(r'<form[^>]*method="post".*?</form>', page, re.S):
        action = re.search(r'action="([^"]*)"', form)
        assert action is not None
        fields = {}
        for tag in re.findall(r"<(?:input|select|textarea|button)[^>]*>", form):
            name, value = (re.search(rf' {what}="([^"]*)"', tag) for what in ("name", "value"))
            if name and 'type="radio"' not in tag:
                fields[(" " if "hidden" in tag else "") + name[1]] = unescape(value[1]) if value else ""
        yield unescape(action[1]), fields
