"""Pages under names of our own alone: a foreign site cannot make this server one of its own."""

from __future__ import annotations

import socket
import uuid
from dataclasses import replace

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.web.security import hosts
from shopfloor.web.security.hosts import is_ours
from tests.web.conftest import Shop

STRANGERS = ["evil.example", "evil.example:8000", "localhost.evil.example", "203.0.113.5", "[2001:db8::5]:8000"]
MALFORMED = [
    "", " ", "[", "[::1", "::1", "localhost:", "localhost:0", "localhost:70000", "localhost:80:80", "localhost/x",
    "me@localhost", "localhost\\@evil.example", "localhost, evil.example", "local host", "localhost..", "%6cocalhost",
    "0.0.0.0", "[::]", "224.0.0.1", "127.0.0.1.evil.example", "localhost\x00", "ľocalhost", "[localhost]:80x",  # noqa: S104  (refused)
]  # fmt: skip
OURS = ["localhost", "LocalHost:8000", "localhost.", "127.0.0.1", "127.0.0.1:8000", "[::1]", "[::1]:8000", "127.0.0.2"]


def client_of(work: Work, named: str) -> FlaskClient:
    """A client of an application that is known by these names too."""
    return create_app(replace(work, settings=replace(work.settings, hosts=named))).test_client()


@pytest.fixture(autouse=True)
def own_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer with a name that no test relies on."""
    monkeypatch.setattr(hosts, "own_names", lambda: ("localhost", "tapping-pc", "tapping-pc.local"))


@pytest.mark.parametrize("asked", [*OURS, "tapping-pc", "TAPPING-PC.local:8000"])
def test_own_names_and_addresses_are_served(asked: str) -> None:
    """However they are written, with and without a port."""
    assert is_ours(asked)


@pytest.mark.parametrize("asked", STRANGERS + MALFORMED)
def test_other_names_and_what_is_no_name_are_not_ours(asked: str) -> None:
    """Neither names that begin like ours, nor what only looks like one."""
    assert not is_ours(asked, {"shop.example", "*.shop.internal"})


@given(st.text(max_size=40))
def test_whatever_is_asked_is_answered(asked: str) -> None:
    """Yes or no, and never an exception."""
    assert is_ours(asked) in (True, False)


@pytest.mark.parametrize(
    "asked", ["shop.example", "SHOP.example.:443", "pc.shop.internal", "203.0.113.5:80", "[2001:db8::5]"]
)
def test_the_shop_can_name_more(asked: str) -> None:
    """Names, addresses, and every name one step below another."""
    assert is_ours(asked, {"shop.example", "*.shop.internal", "203.0.113.5", "2001:db8::5"})


@pytest.mark.parametrize("asked", ["a.b.shop.internal", "shop.internal", "xshop.internal"])
def test_a_star_stands_for_one_step(asked: str) -> None:
    """As in a certificate."""
    assert not is_ours(asked, {"*.shop.internal"})


def test_the_address_that_the_network_gave_is_ours() -> None:
    """Whatever address this computer has, where it has one beside that of its own."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # sends nothing: it only chooses the address to send from
        except OSError:
            pytest.skip("no network here")
        assert is_ours(f"{probe.getsockname()[0]}:8000")


PATHS = ["/", "/healthz", "/nowhere", "/operator/sw.js", "/operator/arm-1/", "/static/x/css/tokens.css", "/sync/clock"]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("asked", ["evil.example:8000", "["])
def test_nothing_is_served_under_another_name(shop: Shop, path: str, asked: str) -> None:
    """421 on every page, file and interface, with what to set and nothing else: neither the name nor ours."""
    answer = client_of(shop.work, "").get(path, headers={"Host": asked})
    assert (421, "text/plain") == (answer.status_code, answer.mimetype)
    assert answer.text == (
        "This address is not one of the server's own. Whoever runs the server can add it to SHOPFLOOR_HOSTS.\n"
    )
    assert "Set-Cookie" not in answer.headers


def test_a_page_that_turned_its_name_to_us_cannot_write(shop: Shop) -> None:
    """Its origin is the host that it asks for, as the browser sees it; the run is refused and nothing is stored."""
    run = {
        "id": str(uuid.uuid4()), "when": shop.clock().isoformat(), "person": "ada", "station": "arm-1", "job": "J-1",
        "tap": "T0001", "rpm": 300, "holes": 48, "cutting_slips": 0, "tap_end": "still good", "part_fate": "good",
    }  # fmt: skip
    forged = {"Host": "evil.example:8000", "Origin": "http://evil.example:8000", "Sec-Fetch-Site": "same-origin"}
    client = client_of(shop.work, "")
    assert 421 == client.post("/sync/runs", json=run, headers=forged).status_code
    assert [] == shop.runs()
    ours = {"Host": "tapping-pc:8000", "Origin": "http://tapping-pc:8000", "Sec-Fetch-Site": "same-origin"}
    assert 201 == client.post("/sync/runs", json=run, headers=ours).status_code


def test_what_a_proxy_says_of_the_host_is_not_believed(shop: Shop) -> None:
    """Neither to let a stranger in nor to keep out one of ours: a proxy keeps the Host header."""
    client = client_of(shop.work, "")
    for told in ("X-Forwarded-Host", "Forwarded", "X-Host"):
        assert 421 == client.get("/new", headers={"Host": "evil.example", told: "localhost"}).status_code
        assert 200 == client.get("/new", headers={"Host": "localhost", told: "evil.example"}).status_code


def test_a_name_in_the_settings_is_served(shop: Shop) -> None:
    """As a proxy or a container is known by."""
    client = client_of(shop.work, "shop.example, werk-süd.example")
    for name in ("shop.example", "xn--werk-sd-s2a.example:8443"):
        assert 200 == client.get("/new", headers={"Host": name}).status_code
