"""What goes over the Wi-Fi is small where the browser takes it so, and says the same."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from typing import Any

import brotli
import pytest
from flask.testing import FlaskClient

from shopfloor.app import create_app
from shopfloor.web.assets.bundles import STATIC
from tests.web.conftest import Shop

UNPACKED: dict[str, Callable[[bytes], bytes]] = {"br": brotli.decompress, "gzip": gzip.decompress}


@pytest.fixture
def client(shop: Shop) -> FlaskClient:
    """A client that takes bodies as they come."""
    return create_app(shop.work).test_client()


def fetch(client: FlaskClient, address: str, takes: str = "gzip, br") -> Any:
    """An answer to a browser that takes these encodings."""
    return client.get(address, headers={"Accept-Encoding": takes})


def address_of(client: FlaskClient, name: str) -> str:
    """The hashed address of a static file."""
    found = re.search(r"/static/[0-9a-f]{12}/", client.get("/").text)
    assert found is not None
    return found[0] + name


@pytest.mark.parametrize("encoding", UNPACKED)
@pytest.mark.parametrize("address", ["/new", "/operator/worker.js", "/sync/lists/arm-1"])
def test_pages_scripts_and_lists_are_compressed(client: FlaskClient, address: str, encoding: str) -> None:
    """Whoever does not take it so gets them plain."""
    small, plain = fetch(client, address, encoding), fetch(client, address, "identity")
    assert (encoding, None) == (small.headers.get("Content-Encoding"), plain.headers.get("Content-Encoding"))
    assert "Accept-Encoding" in small.headers["Vary"]
    assert "Accept-Encoding" in plain.headers["Vary"]
    assert len(small.data) < len(plain.data)
    assert plain.data[:200] == UNPACKED[encoding](small.data)[:200]


def test_brotli_goes_before_gzip(client: FlaskClient) -> None:
    """Of what a browser takes alike, the smaller; what it likes better, first."""
    told = [
        fetch(client, "/new", takes).headers["Content-Encoding"] for takes in ("gzip, deflate, br", "gzip, br;q=0.5")
    ]
    assert ["br", "gzip"] == told


def test_what_fits_into_a_packet_is_not_compressed(client: FlaskClient) -> None:
    """It would not come sooner."""
    assert "Content-Encoding" not in fetch(client, "/healthz").headers


@pytest.mark.parametrize("encoding", UNPACKED)
def test_static_files_are_compressed_and_kept(client: FlaskClient, encoding: str) -> None:
    """Byte for byte the same, for a year."""
    answer = fetch(client, address_of(client, "css/operator.css"), encoding)
    assert encoding == answer.headers["Content-Encoding"]
    assert (STATIC / "css" / "operator.css").read_bytes() == UNPACKED[encoding](answer.data)
    assert len(answer.data) == int(answer.headers["Content-Length"])
    assert "ETag" not in answer.headers
    assert "immutable" in answer.headers["Cache-Control"]


def test_who_refuses_gzip_gets_none(client: FlaskClient) -> None:
    """q=0 says no."""
    with fetch(client, address_of(client, "css/operator.css"), "gzip;q=0") as answer:
        assert "Content-Encoding" not in answer.headers


def test_a_file_of_another_version_is_not_kept(client: FlaskClient) -> None:
    """A page that was open before an update must not keep the new file under the old address."""
    with fetch(client, "/static/000000000000/css/operator.css") as answer:
        assert 200 == answer.status_code
        assert 0 == (answer.cache_control.max_age or 0)
        assert "immutable" not in answer.headers["Cache-Control"]
