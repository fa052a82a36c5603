"""Figures of the server, as Prometheus reads them (its own parser, of the `prometheus_client` package)."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

import shopfloor
from shopfloor.web.monitoring import metrics as module

Sample = tuple[str, frozenset[tuple[str, str]]]


def figures(client: FlaskClient) -> dict[Sample, float]:
    """Every figure by its name and labels."""
    answer = client.get("/metrics")
    assert 200 == answer.status_code
    families = text_string_to_metric_families(answer.text)
    return {(one.name, frozenset(one.labels.items())): one.value for family in families for one in family.samples}


def sample(name: str, **labels: str) -> Sample:
    """How a figure is named."""
    return name, frozenset(labels.items())


def test_requests_are_counted_by_page_and_never_by_address(client: FlaskClient) -> None:
    """An address may hold what somebody entered; one that does not exist would be a new figure for each attempt."""
    for address in ("/crib/", "/crib/", "/crib/taps/T-4711", "/nowhere/4711"):
        client.get(address)
    found = figures(client)
    counted = {
        name: found[sample("shopfloor_requests_total", page=name, method="GET", status=status)]
        for name, status in (("crib.board", "200"), ("crib.tap", "404"), ("no such page", "404"))
    }
    assert {"crib.board": 2, "crib.tap": 1, "no such page": 1} == counted
    assert "4711" not in client.get("/metrics").text


def test_times_fall_into_classes(client: FlaskClient) -> None:
    """Each request is in the last class, which has no upper end, and adds to the sum."""
    client.get("/crib/")
    found = figures(client)
    assert 1 == found[sample("shopfloor_request_seconds_bucket", page="crib.board", le="+Inf")]
    assert 0 < found[sample("shopfloor_request_seconds_sum", page="crib.board")]


@pytest.mark.parametrize("is_ready", [True, False])
def test_it_tells_whether_an_entry_could_be_stored(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, is_ready: bool
) -> None:
    """And by which version."""
    monkeypatch.setattr(module, "is_ready", lambda work: is_ready)
    found = figures(client)
    assert float(is_ready) == found[sample("shopfloor_ready")]
    assert 1 == found[sample("shopfloor_version", version=shopfloor.__version__)]
