"""Runs as JSON: stored once, told apart from conflicts and from strangers, never a 500."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import OperationalError

from shopfloor.app import create_app
from shopfloor.store import Incident, Run
from shopfloor.web.sync import views
from shopfloor.web.sync.views import FIELDS
from tests.statements import statements_to
from tests.web.conftest import Shop
from tests.web.sync.sent import RUNS, problems, run, send


def test_a_run_is_stored_once_however_often_it_is_sent(client: FlaskClient, shop: Shop) -> None:
    """201, then 200 with the same answer; the tablet's clock may have gone on."""
    sent = run()
    answers = [
        send(client, sent),
        send(client, sent),
        send(client, sent | {"device_time": "2026-03-02T09:05:00+01:00"}),
    ]
    assert [201, 200, 200] == [answer.status_code for answer in answers]
    assert [{"id": sent["id"], "stored": True, "open_batch": False}] * 3 == [answer.json for answer in answers]
    assert 1 == shop.count(Run)


def test_a_run_takes_ten_statements_however_many_came_before(client: FlaskClient, shop: Shop) -> None:
    """With those that begin a transaction; one that is entered late, before others of its tap, may take two more."""
    told = []
    for minute in range(2, 10):
        with statements_to(shop.work.engine) as sent:
            send(client, run(when=f"2026-03-02T09:0{minute}:00+01:00"))
        told.append(len(sent))
    assert [10] * 8 == told


def test_the_time_of_the_work_is_the_tablets(client: FlaskClient, shop: Shop) -> None:
    """Stored as UTC, with the tablet's own writing beside it."""
    send(client, run())
    (stored,) = shop.runs()
    assert "2026-03-02T08:00:30+00:00" == stored.ended_at.isoformat()
    assert "2026-03-02T09:00:31+01:00" == stored.device_time


def test_another_run_under_the_same_id_is_a_conflict(client: FlaskClient, shop: Shop) -> None:
    """409 says in what it differs; the first stays."""
    sent = run()
    send(client, sent)
    answer = send(client, sent | {"holes": 50})
    assert (409, ["id"]) == (answer.status_code, problems(answer))
    assert "holes" in answer.text
    assert 48 == shop.runs()[0].holes


def test_a_run_on_a_tap_that_broke_is_a_conflict(client: FlaskClient, shop: Shop) -> None:
    """409, and it is not stored."""
    send(client, run(tap_end="broken", broke_at_hole=3, part_fate="scrapped", cause="bottomed"))
    answer = send(client, run(when="2026-03-02T09:01:00+01:00"))
    assert (409, ["tap"]) == (answer.status_code, problems(answer))
    assert (1, 1) == (shop.count(Run), shop.count(Incident))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"holes": 0}, "holes"),
        ({"holes": -3}, "holes"),
        ({"holes": 10**9}, "holes"),
        ({"holes": 10**400}, "holes"),
        ({"holes": "1,5"}, "holes"),
        ({"holes": 1.5}, "holes"),
        ({"holes": True}, "holes"),
        ({"holes": None}, "holes"),
        ({"holes": [48]}, "holes"),
        ({"holes": "😀"}, "holes"),
        ({"cutting_slips": -1}, "cutting_slips"),
        ({"rpm": 501}, "rpm"),
        ({"tap": "T9999"}, "tap"),
        ({"tap": {"code": "T0001"}}, "tap"),
        ({"person": ""}, "person"),
        ({"station": "\ud800"}, "station"),
        ({"job": "J\x00"}, "job"),
        ({"material": "cheese"}, "material"),
        ({"tap_end": "melted"}, "tap_end"),
        ({"tap_end": "broken"}, "part_fate"),
        ({"tap_end": "broken", "part_fate": "good", "broke_at_hole": 49}, "broke_at_hole"),
        ({"broke_at_hole": 5}, "broke_at_hole"),
        ({"when": "2026-03-03T09:00:00+01:00"}, "when"),
        ({"when": "9999-12-31T23:59:59-12:00"}, "when"),
        ({"when": "0001-01-01T00:00:00+14:00"}, "when"),
        ({"when": "yesterday"}, "when"),
        ({"when": None}, "when"),
        ({"id": "1"}, "id"),
        ({"batch_id": 7}, "batch_id"),
        ({"note": "x" * 2001}, "note"),
        ({"operator": "ada"}, "operator"),
        ({"is_clocked_here": True}, "is_clocked_here"),
        ({"": 1}, ""),
    ],
)
def test_bad_input_is_refused_by_the_fields_name(
    client: FlaskClient, shop: Shop, changes: dict[str, Any], field: str
) -> None:
    """400 with field, what is wrong and what would be right; nothing is written."""
    answer = send(client, run(**changes))
    assert (400, [field]) == (answer.status_code, problems(answer))
    assert 0 == shop.count(Run)


def test_everything_wrong_is_told_at_once(client: FlaskClient) -> None:
    """Not only the first."""
    assert ["rpm", "holes", "tap_end"] == problems(send(client, run(rpm=0, holes=0, tap_end="?")))


@pytest.mark.parametrize(
    "body",
    [
        "",
        "{",
        "[]",
        "null",
        '"run"',
        "7",
        json.dumps([run()]),
        json.dumps(run()).encode("utf-16"),
        b"\xef\xbb\xbf" + json.dumps(run()).encode(),
        json.dumps(run(note="é"), ensure_ascii=False).encode("latin-1"),
        json.dumps(run()).replace("48", "NaN"),
        json.dumps(run()).replace("48", "-Infinity"),
        json.dumps(run()).replace("48", "9" * 5000),
        json.dumps(run())[:-1] + ', "holes": 50}',
        "[" * 100_000,
        '{"note":' * 50_000,
    ],
)
def test_what_is_no_object_of_json_is_refused(client: FlaskClient, shop: Shop, body: str | bytes) -> None:
    """Half a body, a list, another encoding, numbers that are none, a field twice, endless nesting: 400."""
    answer = send(client, body)
    assert (400, ["body"]) == (answer.status_code, problems(answer))
    assert 0 == shop.count(Run)


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_another_content_type_is_refused(client: FlaskClient, shop: Shop, kind: str) -> None:
    """415: a plain form of a foreign page can send these, but never JSON."""
    assert 415 == send(client, run(), **{"Content-Type": kind}).status_code
    assert 0 == shop.count(Run)


def test_a_charset_beside_the_content_type_is_fine(client: FlaskClient) -> None:
    """As many programs send it."""
    assert 201 == send(client, run(), **{"Content-Type": "application/json; charset=utf-8"}).status_code


def test_more_than_a_megabyte_is_refused(client: FlaskClient, shop: Shop) -> None:
    """413 for 10 MB, as JSON."""
    answer = send(client, run(note="x" * 10_000_000))
    assert (413, []) == (answer.status_code, problems(answer))
    assert 0 == shop.count(Run)


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost.elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_of_another_site_is_refused(client: FlaskClient, shop: Shop, headers: dict[str, str]) -> None:
    """403, whatever it sends."""
    assert 403 == send(client, run(), **headers).status_code
    assert 0 == shop.count(Run)


def test_our_own_pages_and_programs_may_send(shop: Shop) -> None:
    """Same origin, or no origin at all; no form token is asked for."""
    client = create_app(shop.work).test_client()
    assert 201 == send(client, run(), **{"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}).status_code
    assert 201 == send(client, run(when="2026-03-02T09:01:00+01:00")).status_code


def test_reading_a_run_is_not_offered(client: FlaskClient) -> None:
    """405, as JSON."""
    answer = client.get(RUNS)
    assert (405, "application/json") == (answer.status_code, answer.mimetype)


@pytest.mark.parametrize(
    ("status", "body", "headers"),
    [
        (400, run(holes=0), {}),
        (403, run(), {"Origin": "https://elsewhere.example"}),
        (409, run(rpm=301), {}),
        (413, "x" * 2_000_000, {}),
        (415, run(), {"Content-Type": "text/plain"}),
        (503, run(), {}),
        (500, run(), {}),
    ],
)
def test_what_to_do_is_told_to_a_program(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, status: int, body: Any, headers: dict[str, str]
) -> None:
    """Each refusal has a remedy of this interface: a program has no form, and cannot go back."""
    client = create_app(shop.work).test_client()
    if status == 409:
        send(client, body | {"rpm": 300})
    if status >= 500:
        error = OperationalError("", None, Exception()) if status == 503 else RuntimeError("a secret detail")
        monkeypatch.setattr(views, "log_run", raiser(error))
    answer = send(client, body, **headers)
    assert (status, {"error", "remedy", "problems"}) == (answer.status_code, set(answer.json or {}))
    remedy = (answer.json or {})["remedy"]
    assert not any(word in remedy for word in ("form", "Go back", "button", "{"))


def raiser(error: Exception) -> Callable[..., Any]:
    """A function that only raises."""

    def fail(*_: object) -> Any:
        raise error

    return fail


@pytest.mark.parametrize(("address", "method", "status"), [("/sync/", "GET", 404), (RUNS, "GET", 405)])
def test_a_wrong_address_or_method_names_the_right_one(
    client: FlaskClient, address: str, method: str, status: int
) -> None:
    """A program that asks wrongly is told where runs go."""
    answer = client.open(address, method=method)
    assert (status, True) == (answer.status_code, "POST" in (answer.json or {})["remedy"])


@pytest.mark.parametrize(
    "changes",
    [
        {"holes": 10**400},
        {"rpm": 1.0e300},
        {"tap": "T" * 100_000},
        {"tap": 10**400},
        {"tap_end": "x" * 100_000},
        {"note": "x" * 100_000},
        {"when": "2" * 100_000},
        {"x" * 100_000: 1},
        {f"field {number}": 1 for number in range(10_000)},
    ],
)
def test_huge_values_are_not_repeated(client: FlaskClient, changes: dict[str, Any]) -> None:
    """An answer names what is wrong in a few words, however much was sent."""
    answer = send(client, run() | changes)
    assert 400 == answer.status_code
    assert all(len(problem["what"]) < 100 for problem in (answer.json or {})["problems"])
    assert len(answer.text) < 10_000


SCALARS = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text()
ANY_JSON = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner), max_leaves=8
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(body=ANY_JSON | st.binary() | st.text())
def test_any_body_gets_an_answer(client: FlaskClient, body: object) -> None:
    """Never a 500."""
    assert send(client, body).status_code in (400, 413)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(changes=st.dictionaries(st.sampled_from(sorted(FIELDS)), ANY_JSON, min_size=1, max_size=4))
def test_any_value_in_any_field_gets_an_answer(client: FlaskClient, changes: dict[str, Any]) -> None:
    """Never a 500."""
    assert send(client, run() | changes).status_code in (200, 201, 400, 409)
