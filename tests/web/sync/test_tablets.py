"""What tablets ask and tell besides runs: the clock, the lists, a new tap from the box, a run taken back."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from flask.testing import FlaskClient

from shopfloor.store import Cancellation, StockMovement, Tap
from tests.statements import statements_to
from tests.web.conftest import Shop
from tests.web.sync.sent import problems, run, send

JSON = {"Content-Type": "application/json"}


def new_tap(**changes: Any) -> dict[str, Any]:
    """A tap from the box under the code N1."""
    sent = {"id": str(uuid.uuid4()), "tap": "N1", "tap_type": "M8 spiral point", "station": "arm-1", "person": "ada"}
    return sent | changes


def test_the_clock_is_the_servers(client: FlaskClient, shop: Shop) -> None:
    """In ISO 8601, with its offset."""
    assert {"now": shop.clock().isoformat()} == client.get("/sync/clock").json


def test_the_lists_hold_what_can_be_chosen(client: FlaskClient) -> None:
    """Everybody, the open jobs with a thread, the taps and types that cut one of them, each by its thread's key."""
    kept = client.get("/sync/lists/arm-1").json
    assert kept is not None
    assert {"ada", "ben"} == {person["code"] for person in kept["people"]}
    threads = {job["code"]: job["thread"] for job in kept["jobs"]}
    assert {"J-1", "J-2"} == set(threads)
    assert [("T0001", True), ("T0002", False)] == [
        (tap["code"], tap["is_here"]) for tap in kept["taps"] if tap["thread"] == threads["J-1"]
    ]
    types = {kind["code"]: (kind["thread"], kind["bin"]) for kind in kept["tap_types"]}
    assert (threads["J-2"], None) == types["M6 spiral flute"]


def test_the_lists_of_an_unknown_station_are_not_there(client: FlaskClient) -> None:
    """404, in JSON."""
    answer = client.get("/sync/lists/nowhere")
    assert (404, "application/json") == (answer.status_code, answer.mimetype)


def test_a_tap_from_the_box_is_fitted_once(client: FlaskClient, shop: Shop) -> None:
    """However often it is sent; a run may use it."""
    sent, before = new_tap(), shop.count(StockMovement)
    answers = [client.post("/sync/taps", json=sent) for _ in range(2)]
    assert [{"id": sent["id"], "tap": "N1", "stored": True}] * 2 == [answer.json for answer in answers]
    assert (4, 1) == (shop.count(Tap), shop.count(StockMovement) - before)
    assert 201 == send(client, run(tap="N1")).status_code


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"tap": "T0001"}, "tap"), ({"tap_type": "?"}, "tap type"), ({"station": ""}, "station"), ({"id": 7}, "id")],
)
def test_a_tap_that_cannot_be_fitted_is_explained(client: FlaskClient, changes: dict[str, Any], field: str) -> None:
    """A code that is taken, unknown things, missing fields."""
    answer = client.post("/sync/taps", json=new_tap(**changes))
    assert (400, [field]) == (answer.status_code, [name.replace("_", " ") for name in problems(answer)])


def test_a_fresh_run_is_taken_back_once(client: FlaskClient, shop: Shop) -> None:
    """However often that is sent; what never arrived is not there."""
    sent = run()
    send(client, sent)
    answers = [client.post(f"/sync/runs/{sent['id']}/undo", json={}) for _ in range(2)]
    assert [{"id": sent["id"], "undone": True}] * 2 == [answer.json for answer in answers]
    assert 1 == shop.count(Cancellation)
    assert 404 == client.post(f"/sync/runs/{uuid.uuid4()}/undo", json={}).status_code


def test_an_old_run_is_not_taken_back(client: FlaskClient, shop: Shop) -> None:
    """409: it is corrected with a reason."""
    sent = run()
    send(client, sent)
    shop.clock.move(minutes=shop.work.settings.undo_minutes + 1)
    assert 409 == client.post(f"/sync/runs/{sent['id']}/undo", json={}).status_code


def test_a_form_cannot_take_back(client: FlaskClient) -> None:
    """415: what another site's form can send is not taken."""
    assert 415 == client.post(f"/sync/runs/{uuid.uuid4()}/undo", data={}).status_code


def test_a_page_goes_on_after_a_run_that_the_tablet_sent(client: FlaskClient) -> None:
    """A good tap: the next batch. A broken one: the next tap, for the rest of this batch."""
    with client.session_transaction() as session:
        session["person"], session["jobs"] = "ada", {"arm-1": "J-1"}
    good, broken = run(), run(when="2026-03-02T09:00:50+01:00", tap_end="broken", part_fate="good", broke_at_hole=27)
    goals = []
    for each, rest in ((good, "0"), (broken | {"holes": 27}, "21")):
        assert 201 == send(client, each).status_code
        goals.append(client.post("/operator/arm-1/go-on", data={"run": each["id"], "rest": rest}).location)
    assert [f"/operator/arm-1/?saved={good['id']}", f"/operator/arm-1/next-tap?saved={broken['id']}"] == goals
    assert "21 holes of the batch are left" in client.get(goals[1]).text


def test_an_answer_says_whether_a_batch_goes_on_here(client: FlaskClient) -> None:
    """By this tablet's memory of the run's station, so that its page asks no more than it must."""
    with client.session_transaction() as session:
        session["batches"] = {"arm-1": [str(uuid.uuid4()), 21]}
    places = ({"station": "arm-1"}, {"station": "air-1", "rpm": 350})
    answers = [send(client, run(**place)).json for place in places]
    assert [True, False] == [answer and answer["open_batch"] for answer in answers]


def test_going_on_asks_the_log_once(client: FlaskClient, shop: Shop) -> None:
    """For the batch and how the tap ended: nothing else of the run matters."""
    sent = run()
    send(client, sent)
    with statements_to(shop.work.engine) as asked:
        client.post("/operator/arm-1/go-on", data={"run": sent["id"], "rest": "0"})
    assert 1 == sum("FROM run" in statement for statement in asked)


@pytest.mark.parametrize("told", ["", "nonsense", "0197b2c4-8a00-7000-8000-000000000001"])
def test_a_page_does_not_go_on_after_a_run_that_is_not_there(client: FlaskClient, told: str) -> None:
    """404."""
    assert 404 == client.post("/operator/arm-1/go-on", data={"run": told}).status_code


def test_the_worker_knows_files_that_are_there(client: FlaskClient) -> None:
    """Its script names the style sheets and scripts of this version, each of which is served."""
    script = client.get("/operator/worker.js")
    assert ("text/javascript", "no-cache") == (script.mimetype, script.headers["Cache-Control"])
    names = [name for name in script.text.split('"') if name.startswith("/static/") and "." in name]
    assert {"operator.css", "operator.js", "card.css"} <= {name.rpartition("/")[2] for name in names}
    for name in names:
        with client.get(name) as file:
            assert 200 == file.status_code, name
