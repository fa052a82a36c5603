"""Start page, health, what is new, and the answers to what goes wrong."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

import shopfloor
from shopfloor.app import create_app
from shopfloor.cli.log_lines import LineFormatter
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store.upgrade import downgrade
from tests.web.conftest import Shop


def test_the_start_page_has_three_large_links(client: FlaskClient) -> None:
    """One for each person."""
    page = client.get("/").text
    for address in ("/operator/", "/crib/", "/quality/"):
        assert f'href="{address}"' in page


def test_an_empty_log_leads_to_its_first_run(client: FlaskClient) -> None:
    """Name what there is, or bring in a log; no figure is shown."""
    page = client.get("/").text
    assert 'href="/setup/"' in page.partition("<main")[2]
    assert "shopfloor runs import FILE.csv" in page
    assert 'class="figure"' not in page


def test_each_link_tells_what_is_behind_it(shop: Shop, client: FlaskClient) -> None:
    """Facts with their evidence: when and where, of how many taps, in how many holes."""
    shop.log()
    shop.log(tap_end="broken", broke_at_hole=20, part_fate="scrapped")
    shop.clock.move(hours=2)
    text = " ".join(re.sub(r"<[^>]+>", " ", client.get("/").text).split())
    assert "2 runs in the last 7 days Last batch 2 hours ago at Tapping arm 1, 2026-03-02 08:03" in text
    assert "0 taps to change now 0 more in their next batch, of no taps in service" in text
    assert re.search(r"\d tap types? to order .{0,30}of 2 tap types", text)
    assert re.search(r"15 breaks per 1,000 holes Last 90 days: 1 break in 68 holes, 90 % interval 0.75 to \d\d", text)


def test_health_is_good_on_a_migrated_database(client: FlaskClient) -> None:
    """200 and JSON."""
    answer = client.get("/healthz")
    assert (200, True, "application/json") == (answer.status_code, answer.json["ready"], answer.mimetype)  # type: ignore[index]


def test_health_is_bad_without_a_schema(shop: Shop, client: FlaskClient) -> None:
    """503 until the database is migrated."""
    downgrade(shop.work.settings.database, "base")
    assert 503 == client.get("/healthz").status_code


def test_health_is_bad_without_a_database(tmp_path: Any) -> None:
    """503 while the database cannot be reached; a page says so in words, with no traceback."""
    settings = Settings(database=f"sqlite:///{tmp_path}/none/x.db", data_folder=tmp_path)
    client = create_app(Work.on(settings)).test_client()
    assert 503 == client.get("/healthz").status_code
    answer = client.get("/setup/people")
    assert (503, True) == (answer.status_code, "The database cannot be reached" in answer.text)


def test_what_is_new_shows_the_changelog(client: FlaskClient) -> None:
    """The newest version stands in the tool, with its commands and labels set off."""
    text = client.get("/new").text
    assert shopfloor.__version__ in text
    assert "<code>shopfloor backup TO</code> writes" in text
    assert "<em>Help</em> in the header" in text
    assert "`" not in text.split("<main", 1)[1]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("GET", "/nowhere", 404), ("DELETE", "/", 405), ("GET", "/static/x/../../app.py", 404)],
)
def test_wrong_addresses_get_a_page(client: FlaskClient, method: str, path: str, status: int) -> None:
    """Each says what to do next."""
    answer = client.open(path, method=method)
    assert status == answer.status_code
    assert "Start page" in answer.text


def test_a_huge_body_is_refused(client: FlaskClient) -> None:
    """10 MB get 413 and words, for forms as for JSON."""
    form = client.post("/setup/people", data={"name": "x" * 10_000_000})
    assert (413, True) == (form.status_code, "more than a batch can hold" in form.text)
    sent = client.post("/sync/runs", data=b"x" * 10_000_000, content_type="application/json")
    assert 413 == sent.status_code
    assert sent.json is not None


def test_the_unexpected_gets_a_number_and_no_traceback(
    shop: Shop, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page shows a short code that also stands in the log."""
    monkeypatch.setattr(caplog.handler, "formatter", LineFormatter())
    app: Flask = create_app(shop.work)

    @app.get("/boom")
    def boom() -> str:
        raise RuntimeError("a secret detail")

    answer = app.test_client().get("/boom")
    assert 500 == answer.status_code
    assert "Traceback" not in answer.text
    assert "secret detail" not in answer.text
    code = re.search(r"runs this tool: ([0-9a-f]{8})", answer.text)
    assert code is not None
    assert f" ERROR {code[1]} " in caplog.text
    assert code[1] == answer.headers["X-Request-Id"]


@pytest.mark.parametrize("path", ["/", "/nowhere", "/healthz"])
def test_every_answer_carries_its_guards(client: FlaskClient, path: str) -> None:
    """A strict content policy, no sniffing, on pages and errors alike."""
    headers = client.get(path).headers
    assert "default-src 'self'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert "nosniff" == headers["X-Content-Type-Options"]


def test_static_files_are_kept_by_browsers(client: FlaskClient) -> None:
    """Their address changes with their content, so they may be kept for a year."""
    page = client.get("/").text
    sheet = re.search(r'href="(/static/[0-9a-f]{12}/bundles/page\.css)"', page)
    assert sheet is not None
    with client.get(sheet[1]) as answer:
        assert (200, True) == (answer.status_code, "immutable" in answer.headers["Cache-Control"])


def test_forms_of_strangers_are_refused(shop: Shop) -> None:
    """A form without our token changes nothing."""
    answer = create_app(shop.work).test_client().post("/setup/people", data={"code": "x", "name": "X", "role": "crib"})
    assert (400, True) == (answer.status_code, "open the page again" in answer.text)
