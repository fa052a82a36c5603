"""Requests that nobody would send by a page: hostile addresses, forms, JSON, headers and cookies, to every route.

Drawn by chance from a seed. The ordinary run sends a few hundred; SHOPFLOOR_REQUESTS says how many otherwise.
"""

from __future__ import annotations

import logging
import os
import random
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from argon2 import PasswordHasher
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.routing import Rule

from shopfloor.app import create_app
from shopfloor.services.access import hashing
from shopfloor.services.access.log_in import sign_in
from shopfloor.services.access.rules import use_pins
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from tests.conftest import BOTH
from tests.factories import Clock
from tests.web.conftest import MORNING, Shop, furnish
from tests.web.gate import CAST, PASSWORD, PIN, Gate, close
from tests.web.writing import Sent, known, sent

_log = logging.getLogger(__name__)

REQUESTS = int(os.environ.get("SHOPFLOOR_REQUESTS", "600"))
SLOWEST_S = 2.0
A_LONG_RUN = 5_000
"""From so many requests on, an answer that costs too much of the processor fails the test."""

ROLES = ("nobody", "a tablet", *CAST)
FUTURE = "ffffffff-ffff-7fff-bfff-ffffffffffff"
TEXTS = (
    "", " ", "0", "1", "-1", "1e22", "10000000000000000000000", "9" * 5000, "1e400", "NaN", "Infinity", "-0", "0x10",
    "2147483648", "9223372036854775808", "٣", "½", "²", "1,5", "1.500", "true", "null", "[]", "{}",
    "\0", "a\0b", "\x1b[31m", "\x7f", "\ud800", "\udfffx", "\ufffe", "\u202e", "\u200b", "e\u0301", "Ａ", "İ", "ß",
    "🔩",
    "http://[", "//[", "https://[::1", "http://]", "/[", "//elsewhere.test/", "/\\elsewhere.test", "javascript:x",
    "../../etc/passwd", "..%2f", "%00", "%", "%zz", "a/b", "//", "?", "#", ";", "'", '"', "' OR 1=1 --", "%s", "{0}",
    "{{7*7}}", "${7*7}", "<script>", "&amp;", "\r\nX: y", "x" * 3000, "é" * 2000, FUTURE, str(uuid.UUID(int=0)),
    "00000000-0000-7000-8000-000000000000", "0001-01-01", "9999-12-31T23:59:59-23:59", "0001-01-01T00:00+14:00",
    "2026-02-30", "2026-03-02T08:00", "2026-03-02 08:00", "24:00", "still good", "broken", "received", "admin",
    "ada", "sue", "ADA", "arm-1", "ARM-1", "air-1", "J-1", "J-3", "T0001", "T0003", "M8 spiral point", "steel", "en",
    "T-T0001-00", "$T0001", "people", "jobs", "stations", "week", "year", "break", "M8", "1/2-13", "tr", "yes", "no",
)  # fmt: skip
NAMES = (
    "person", "secret", "again", "next", "back", "station", "job", "tap", "tap_type", "holes", "rpm", "id", "run",
    "rest",
    "saved", "undone", "fitted", "code", "days", "size", "page", "period", "cause", "material", "speed", "mode",
    "sort", "text", "all", "when", "slip_holes", "batch_id", "device_time", "number", "codes", "kind", "meant",
    "is_open",
)  # fmt: skip
VALUES: tuple[Any, ...] = (*TEXTS, None, True, -1, 10**30, 1e300, 2.5, [], [1, "x"], [None] * 600, {}, {"a": {"b": []}})
HEADERS = (
    "Origin", "Referer", "Sec-Fetch-Site", "Accept-Language", "Accept-Encoding", "Content-Type", "If-None-Match",
    "If-Modified-Since", "Range", "X-Forwarded-For", "X-Forwarded-Host", "Content-Language", "Accept", "Cookie",
)  # fmt: skip
ADDRESSES = tuple(text for text in TEXTS if "[" in text or text.startswith(("/", "http", "java")))
IDS = ("1", "2", "12345", "1e22", "2147483648", "9" * 30, "-1", "\0", "\ud800", FUTURE, str(uuid.UUID(int=0)))
NEAR = {
    **dict.fromkeys(("next", "back", "Origin", "Referer"), ADDRESSES),
    **dict.fromkeys(("id", "number", "run", "check", "movement", "photograph", "batch_id", "incident"), IDS),
    **dict.fromkeys(
        ("person", "secret", "code", "station", "tap", "job"), ("\0", "a\0b", "\ud800", "\x1b", "ada", "T0001")
    ),
}
"""What may hurt by the name of the field or header; drawn half of the time."""

COOKIES = ("session", "language", "look", "shopfloor-tablet", "shopfloor-person")


@pytest.fixture(autouse=True)
def cheap_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many of the requests try to log in."""
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(hashing, "_hasher", cheap)
    monkeypatch.setattr(hashing, "_NOBODYS", cheap.hash("of nobody"))


@pytest.fixture(params=BOTH)
def any_shop(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Shop]:
    """The small shop, on either database."""
    url = request.getfixturevalue(f"{request.param}_url")
    clock = Clock(MORNING)
    settings = Settings(database=url, data_folder=tmp_path / "instance", proxy="127.0.0.1")
    made = Shop(Work.on(settings, clock), clock)
    furnish(made)
    yield made
    made.work.close()


class Sender:
    """Draws requests to one application, and sends them as each of its people."""

    def __init__(self, gate: Gate, chance: random.Random) -> None:
        self.gate, self.chance = gate, chance
        app: Flask = gate.client.application
        self.rules = list(app.url_map.iter_rules())
        shop = gate.shop
        self.sent = {endpoint: sent(shop, endpoint, "ada", PIN) for endpoint in sorted(known())}

    def client(self) -> tuple[str, FlaskClient]:
        """Somebody, on a browser of their own."""
        role = self.chance.choice(ROLES)
        client = self.gate.client.application.test_client()
        if role != "nobody":
            client.set_cookie("shopfloor-tablet", self.gate.token)
        if role in CAST:
            secret = PIN if role == "ada" else PASSWORD
            client.set_cookie("shopfloor-person", sign_in(self.gate.shop.work, role, secret, self.gate.tablet))
            with client.session_transaction() as session:
                session.update(person=role, station="arm-1", jobs={"arm-1": "J-1"})
        if self.chance.random() < 0.2:
            for name in self.chance.sample(COOKIES, 2):
                client.set_cookie(name, quote(self.text().encode("utf-8", "replace"))[:1000])
        return role, client

    def text(self, name: str = "") -> str:
        """A hostile text, or several in one, for the field or header of this name."""
        if name in NEAR and self.chance.random() < 0.5:
            return self.chance.choice(NEAR[name])
        if self.chance.random() < 0.15:
            return "".join(chr(self.chance.choice((range(256), range(0x11000))[n % 2])) for n in range(9))
        return "".join(self.chance.choices(TEXTS, k=1 if self.chance.random() < 0.9 else 3))

    def address(self, rule: Rule) -> str:
        """An address of this route, with parts that are there or not."""
        parts = self.sent[rule.endpoint].parts if rule.endpoint in self.sent else {}
        path = rule.rule
        for converter in ("path:", "uuid:", "int:", ""):
            for name in rule.arguments:
                value = str(parts.get(name, "arm-1")) if self.chance.random() < 0.6 else self.text(name)
                value = quote(value.encode("utf-8", "surrogatepass"), safe=self.chance.choice(("", "/")))
                path = path.replace(f"<{converter}{name}>", value)
        return path

    def pairs(self) -> dict[str, str]:
        """Fields with hostile values."""
        names = [self.chance.choice((*NAMES, self.text())) for _ in range(self.chance.randrange(4))]
        return {name: self.text(name) for name in names}

    def body(self, rule: Rule) -> dict[str, Any]:
        """A form, an object of JSON, or rubbish, near to what the route takes."""
        what = self.sent.get(rule.endpoint, Sent())
        if what.picture is not None and self.chance.random() < 0.5:
            cut = what.picture[: self.chance.randrange(len(what.picture))]
            return {"data": cut, "content_type": self.chance.choice(("image/png", "image/jpeg", self.header_value()))}
        if rule.rule.startswith("/sync/") and self.chance.random() < 0.9:
            return {"json": self.spoilt(what.json or {}, VALUES)}
        if self.chance.random() < 0.05:
            data = self.text().encode("utf-8", "surrogatepass") * self.chance.choice((1, 40))
            return {"data": data, "content_type": self.chance.choice(("application/json", "multipart/form-data", "x"))}
        fields = self.spoilt(what.form, TEXTS)
        return {"data": {_sendable(str(name)): _sendable(str(value)) for name, value in fields.items()}}

    def spoilt(self, fields: dict[str, Any], values: tuple[Any, ...]) -> dict[str, Any]:
        """The fields with some of them changed, gone or added."""
        changed = dict(fields)
        for name in self.chance.sample(sorted(fields), min(len(fields), self.chance.randrange(4))):
            changed[name] = self.chance.choice((*values, *NEAR.get(name, ()) * 9))
        return changed | (self.pairs() if self.chance.random() < 0.3 else {})

    def header_value(self, name: str = "") -> str:
        """A header's value, of characters that a server lets through."""
        return "".join(c for c in self.text(name) if c.isprintable() and ord(c) < 256)[:2000]

    def send(self) -> tuple[str, int, float, str]:
        """Send one: what it was, the status, the time that it took of the processor, and what came back."""
        rule, (role, client) = self.chance.choice(self.rules), self.client()
        writes = {"POST"} <= (rule.methods or set())
        method = self.chance.choice(("GET", "PUT", "DELETE", "HEAD", "OPTIONS")) if self.chance.random() < 0.05 else ""
        method = method or ("POST" if writes else "GET")
        address = self.address(rule)
        query = {_sendable(name): _sendable(value) for name, value in self.pairs().items()}
        headers = {name: self.header_value(name) for name in self.chance.sample(HEADERS, self.chance.randrange(3))}
        keywords = self.body(rule) if method == "POST" else {}
        if "content_type" in keywords or "json" in keywords:
            headers.pop("Content-Type", None)
        told = f"{role}: {method} {address!r} {query!r} {headers!r} {keywords!r}"
        base = self.chance.choice(("http://localhost", "https://localhost"))
        before = time.process_time()
        answer = client.open(address, method=method, query_string=query, headers=headers, base_url=base, **keywords)
        return (
            told,
            answer.status_code,
            time.process_time() - before,
            answer.get_data(as_text=False).decode("utf-8", "replace"),
        )


def _sendable(text: str) -> str:
    """What an encoder of forms and addresses takes."""
    return text.encode("utf-8", "replace").decode()


def test_no_request_makes_the_server_fail(any_shop: Shop, caplog: pytest.LogCaptureFixture) -> None:
    """No 5xx, no traceback, nothing unexpected in the log; in a long run no answer that costs too much."""
    app = create_app(any_shop.work)
    app.config.update(TESTING=False)
    gate = close(any_shop, app.test_client())
    chance = random.Random(20261201)  # noqa: S311 - the same requests each time
    faults, slowest, seen = [], (0.0, ""), dict.fromkeys(range(2, 6), 0)
    app.config.update(WTF_CSRF_ENABLED=False)
    sender = Sender(gate, chance)
    is_sqlite = any_shop.work.settings.database.startswith("sqlite")
    with caplog.at_level(logging.ERROR):
        for n in range(REQUESTS if is_sqlite else REQUESTS // 4):
            if n % 100 == 0:
                use_pins(any_shop.work, is_in_use=n % 300 != 200)
                any_shop.clock.move(minutes=20)
            told, status, seconds, body = sender.send()
            seen[status // 100] += 1
            slowest = max(slowest, (seconds, told))
            if status >= 500 or "Traceback" in body or caplog.records:
                faults.append(f"{status} {told}"[:1500] + caplog.text[-1500:])
                caplog.clear()
    assert [] == faults
    assert min(seen[2], seen[3], seen[4]) > REQUESTS // 50
    assert REQUESTS < A_LONG_RUN or slowest[0] < SLOWEST_S, slowest
    _log.info("slowest: %.2f s, %s; statuses: %s", slowest[0], slowest[1][:300], seen)
