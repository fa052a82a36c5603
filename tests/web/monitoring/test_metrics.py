"""Figures of the server, as Prometheus reads them (its own parser, of the `prometheus_client` package)."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

import shopfloor
from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.web.monitoring import metrics as module
from tests.web.conftest import Shop

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


def test_any_method_is_no_figure_of_its_own(client: FlaskClient) -> None:
    """A client may call it what it likes."""
    for method in ("BREW", "T-4711"):
        client.open("/crib/", method=method)
    assert 2 == figures(client)[sample("shopfloor_requests_total", page="no such page", method="other", status="405")]


def test_it_tells_how_far_estimates_are_behind(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """In seconds."""
    monkeypatch.setattr(module, "lag_s", lambda work: 17.5)
    assert 17.5 == figures(client)[sample("shopfloor_estimator_lag_seconds")]


def test_it_tells_the_age_of_the_newest_backup(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """In seconds."""
    monkeypatch.setattr(module, "backup_age_s", lambda work: 3600.5)
    assert 3600.5 == figures(client)[sample("shopfloor_backup_age_seconds")]


def test_it_answers_while_the_database_does_not(shop: Shop, client: FlaskClient) -> None:
    """That is when somebody looks; what only the database knows is no number then."""
    with shop.work.write() as session:
        session.connection().exec_driver_sql("DROP TABLE estimate_generation")
        session.connection().exec_driver_sql("DROP TABLE alembic_version")
    found = figures(client)
    assert 0 == found[sample("shopfloor_ready")]
    assert math.isnan(found[sample("shopfloor_estimator_lag_seconds")])


@pytest.mark.parametrize(
    ("remote", "headers", "settings", "status"),
    [
        ("127.0.0.1", {}, {}, 200),
        ("::1", {}, {}, 200),
        ("::ffff:127.0.0.1", {}, {}, 200),
        ("192.168.1.20", {}, {}, 403),
        ("", {}, {}, 403),
        ("192.168.1.20", {}, {"metrics_from": "10.0.0.1, 192.168.1.0/24"}, 200),
        ("192.168.2.20", {}, {"metrics_from": "10.0.0.1, 192.168.1.0/24"}, 403),
        ("fd00::7", {}, {"metrics_from": "fd00::/64"}, 200),
        ("127.0.0.1", {"X-Forwarded-For": "192.168.1.20"}, {}, 403),
        ("127.0.0.1", {"Forwarded": "for=127.0.0.1"}, {}, 403),
        ("127.0.0.1", {"X-Forwarded-For": "127.0.0.1, 192.168.1.20"}, {"proxy": "127.0.0.1"}, 403),
        ("10.0.0.9", {"X-Forwarded-For": "192.168.1.20"}, {"proxy": "10.0.0.9", "metrics_from": "192.168.1.20"}, 200),
        ("192.168.1.66", {"X-Forwarded-For": "127.0.0.1"}, {}, 403),
    ],
)
def test_only_this_computer_and_addresses_in_the_settings_read_it(
    shop: Shop, remote: str, headers: dict[str, str], settings: dict[str, Any], status: int
) -> None:
    """A proxy that nobody told of may run on this computer and pass on requests from anywhere."""
    app = create_app(Work(shop.work.engine, replace(shop.work.settings, **settings), shop.clock))
    answer = app.test_client().get("/metrics", headers=headers, environ_overrides={"REMOTE_ADDR": remote})
    assert (status, status == 200) == (answer.status_code, "shopfloor_ready" in answer.text)
