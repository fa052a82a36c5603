"""The operator's pages: choose, log, change the tap, undo, correct; and what is refused."""

from __future__ import annotations

import re
import uuid
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.app import create_app
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.crib.orders import ledger
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.settings import Settings
from shopfloor.store import Cancellation, Incident, Job, Run, Station, Tap
from tests.web.conftest import Shop
from tests.web.markup import typed, words
from tests.web.operator.station_form import STATION, form, save

NOWHERE = "0197b2c4-8a00-7000-8000-00000000dead"
"""An id that nothing has; fixed, so that parallel workers collect the same tests."""


@pytest.fixture
def at_work(client: FlaskClient) -> FlaskClient:
    """A tablet at arm-1, used by Ada for J-1."""
    client.post(f"{STATION}person", data={"person": "ada"})
    client.post(f"{STATION}job", data={"job": "J-1"})
    return client


def save_broken(client: FlaskClient, **changes: str) -> TestResponse:
    """Save a batch in which the tap broke at hole 27 of 48."""
    incident = {"tap_end": "broken", "broke_at_hole": "27", "part_fate": "scrapped", "cause": "chips packed"}
    return save(client, **incident | changes)


def found(**changes: str) -> dict[str, str]:
    """The form of a half-used M8 tap that nobody has written down, but for the changes."""
    values = {
        "id": str(uuid.uuid4()), "tap": "OLD-1", "tap_type": "M8 spiral point", "used": "not known", "holes_before": "",
    }  # fmt: skip
    return {f"found-{name}": value for name, value in (values | changes).items()}


def test_the_first_visit_asks_where_who_and_what(client: FlaskClient) -> None:
    """Station, person, job, then the page; each answer leads to the next question."""
    assert "Tapping arm 1" in words(client.get("/operator/"))
    assert f"{STATION}person" == client.get(STATION).location
    assert 303 == client.post(f"{STATION}person", data={"person": "ada"}).status_code
    assert f"{STATION}job" == client.get(STATION).location
    assert STATION == client.post(f"{STATION}job", data={"job": "J-1"}).location
    assert "Save for Ada K." in words(client.get(STATION))


def test_the_tablet_remembers_for_long_and_a_job_for_each_station(at_work: FlaskClient) -> None:
    """The cookie outlives the browser; another station has its own job."""
    at_work.post("/operator/air-1/job", data={"job": "J-2"})
    assert "side plate" in words(at_work.get(STATION))
    assert "pump cover" in words(at_work.get("/operator/air-1/"))
    cookie = at_work.get_cookie("session")
    assert cookie is not None
    assert cookie.expires is not None


def test_only_open_jobs_with_a_thread_can_be_chosen(at_work: FlaskClient) -> None:
    """Neither the closed one nor the sketch."""
    page = words(at_work.get(f"{STATION}job"))
    assert [True, True, False, False] == [code in page for code in ("J-1", "J-2", "J-3", "J-4")]
    assert 400 == at_work.post(f"{STATION}job", data={"job": "J-3"}).status_code


@pytest.mark.parametrize("chosen", ["", "nobody", "😀", "ada' OR 1=1"])
def test_a_person_who_is_not_on_the_list_is_refused(client: FlaskClient, chosen: str) -> None:
    """And nobody is remembered."""
    assert 400 == client.post(f"{STATION}person", data={"person": chosen}).status_code
    assert f"{STATION}person" == client.get(STATION).location


@pytest.mark.parametrize("address", ["", "person", "job", "next-tap", "entries", f"entries/{NOWHERE}/correct"])
def test_an_unknown_station_is_not_found(at_work: FlaskClient, address: str) -> None:
    """On every page."""
    assert 404 == at_work.get(f"/operator/nowhere/{address}").status_code


def test_the_page_shows_the_tap_and_offers_the_plan(at_work: FlaskClient) -> None:
    """Its code, its holes, what is planned; the planned number can be put in without a script."""
    page = at_work.get(STATION)
    assert "T0001" in words(page)
    assert "0 holes so far" in words(page)
    assert "120 left on this job" in words(page)
    assert "120" == typed(at_work.get(f"{STATION}?holes=120"), "holes")


def test_a_batch_is_saved_and_told(at_work: FlaskClient, shop: Shop) -> None:
    """One run by Ada with the tap of the page; the notice names holes, tap and total, and offers to undo."""
    answer = save(at_work, cutting_slips="2", depth_control="depth stop", lubricant="mist", note="new drill")
    assert 303 == answer.status_code
    page = at_work.get(answer.location)
    assert "Saved: 48 holes on T0001 (48 so far), still good." in words(page)
    assert "Undo" in words(page)
    (run,) = shop.runs()
    assert (48, 2, 300, "new drill", TapEnd.STILL_GOOD) == (
        run.holes, run.cutting_slips, run.rpm, run.note, run.tap_end,
    )  # fmt: skip


def test_what_was_said_last_is_offered_next(at_work: FlaskClient) -> None:
    """The size of the batch, the speed, the conditions."""
    save(at_work, holes="30", rpm="280", lubricant="mist")
    page = at_work.get(STATION)
    assert "30 as last time" in words(page)
    assert "280" == typed(page, "rpm")
    assert re.search(r'<option selected value="mist">', page.text)


def test_a_batch_sent_twice_is_stored_once(at_work: FlaskClient, shop: Shop) -> None:
    """A second tap on Save, or a retry over bad Wi-Fi."""
    sent = form(at_work)
    answers = [at_work.post(STATION, data=sent) for _ in range(2)]
    assert [303, 303] == [answer.status_code for answer in answers]
    assert 1 == shop.count(Run)


def test_another_batch_under_the_same_id_is_refused_with_the_way_out(at_work: FlaskClient, shop: Shop) -> None:
    """As after going back in the browser; saving once more stores it as another batch."""
    sent = form(at_work)
    at_work.post(STATION, data=sent)
    answer = at_work.post(STATION, data=sent | {"holes": "50"})
    assert 409 == answer.status_code
    assert "This batch was saved already, with other figures" in words(answer)
    assert typed(answer, "id") not in ("", sent["id"])
    assert 303 == at_work.post(STATION, data=sent | {"holes": "50", "id": typed(answer, "id")}).status_code
    assert 2 == shop.count(Run)


def test_the_devices_time_stands_beside_the_servers(at_work: FlaskClient, shop: Shop) -> None:
    """The server's clock counts."""
    save(at_work, device_time="2031-01-01T08:00:00+01:00")
    (run,) = shop.runs()
    assert ("2031-01-01T08:00:00+01:00", shop.clock()) == (run.device_time, run.ended_at)


def test_a_form_saves_for_the_person_whom_it_names(at_work: FlaskClient, shop: Shop) -> None:
    """Even when somebody else has taken the tablet in another window."""
    sent = form(at_work)
    at_work.post(f"{STATION}person", data={"person": "ben"})
    at_work.post(STATION, data=sent)
    assert 1 == shop.runs()[0].person_id


BAD = [
    ({"holes": "0"}, "Holes: 0 is out of range", 400),
    ({"holes": "-3"}, "Holes: -3 is out of range", 400),
    ({"holes": "1000000000"}, "Holes: 1,000,000,000 is out of range", 400),
    ({"holes": "1,5"}, "Holes: '1,5' is not a whole number", 400),
    ({"holes": ""}, "Holes: it is missing", 400),
    ({"holes": "😀"}, "Holes: '😀' is not a whole number", 400),
    ({"cutting_slips": "some"}, "Cutting slips: 'some' is not a whole number", 400),
    ({"rpm": "501"}, "Speed (rpm): Tapping arm 1 does not run at 501", 400),
    ({"rpm": ""}, "Speed (rpm): it is missing", 400),
    ({"tap_end": "melted"}, "How is the tap now? 'melted' is not known", 400),
    ({"tap_end": ""}, "How is the tap now? it is missing", 400),
    ({"broke_at_hole": "5"}, "hole 5 is given but the tap did not break", 400),
    ({"tap_end": "broken", "broke_at_hole": "49", "part_fate": "good"}, "49 lies beyond the batch of 48", 400),
    ({"tap_end": "broken", "part_fate": "good"}, "Broke at which hole? it is missing", 400),
    ({"tap_end": "broken", "broke_at_hole": "5"}, "What became of the part? it is missing", 400),
    ({"lubricant": "soup"}, "Lubricant: 'soup' is not known", 400),
    ({"note": "x" * 2001}, "Note: it has 2,001 characters", 400),
    ({"tap": "T9999"}, "Tap: 'T9999' is not a tap of this shop", 400),
    ({"person": "nobody"}, "Person: 'nobody' is not a person of this shop", 400),
    ({"job": "J-9"}, "Job: 'J-9' is not a job of this shop", 400),
    ({"tap": ""}, "Tap: it is missing", 400),
    ({"batch_id": "x"}, "Batch id: 'x' is not a UUID", 400),
]


@pytest.mark.parametrize(("changes", "told", "status"), BAD)
def test_bad_input_is_refused_by_the_fields_name(
    at_work: FlaskClient, shop: Shop, changes: dict[str, str], told: str, status: int
) -> None:
    """The title says so, the summary names the field, what was typed stays, nothing is written."""
    answer = save(at_work, **{"holes": "48", "note": "typed with care"} | changes)
    assert status == answer.status_code
    assert "<title>Error:" in answer.text
    assert told in words(answer)
    assert changes.get("note", "typed with care") in answer.text
    assert changes.get("holes", "48") == typed(answer, "holes")
    assert (0, 0) == (shop.count(Run), shop.count(Incident))


def test_the_summary_leads_to_the_field_and_the_field_to_the_words(at_work: FlaskClient) -> None:
    """Linked, focused, described."""
    answer = save(at_work, holes="0")
    assert '<a href="#holes">' in answer.text
    assert "data-focus" in answer.text
    field = re.search(r'<input [^>]*name="holes"[^>]*>', answer.text)
    assert field is not None
    assert 'aria-describedby="holes-error"' in field[0]
    assert 'aria-invalid="true"' in field[0]
    assert 'id="holes-error"' in answer.text


def test_a_tap_that_broke_in_the_meantime_is_refused(at_work: FlaskClient, shop: Shop) -> None:
    """Somebody else logged the break: 409, and the figures stay on the page."""
    sent = form(at_work, holes="33")
    shop.log(tap_end="broken")
    answer = at_work.post(STATION, data=sent)
    assert 409 == answer.status_code
    assert "the log says it was broken before this run" in words(answer)
    assert "33" == typed(answer, "holes")
    assert 1 == shop.count(Run)


def test_a_body_of_ten_megabytes_is_refused(at_work: FlaskClient, shop: Shop) -> None:
    """413, and nothing is written."""
    answer = save(at_work, note="x" * 10_000_000)
    assert 413 == answer.status_code
    assert "at most 2,000 characters" in words(answer)
    assert 0 == shop.count(Run)


def test_a_form_without_its_token_is_refused(shop: Shop) -> None:
    """A page of somebody else's cannot log anything."""
    stranger = create_app(shop.work).test_client()
    assert 400 == stranger.post(STATION, data={"holes": "48"}).status_code
    assert 0 == shop.count(Run)


def test_a_broken_tap_leads_to_the_next_one_and_the_rest_of_the_batch(at_work: FlaskClient, shop: Shop) -> None:
    """48 holes, broken at 27: the next tap is offered the other 21 under the same batch."""
    answer = save_broken(at_work, account="packed chips in hole 27")
    assert answer.location.startswith(f"{STATION}next-tap?saved=")
    page = at_work.get(answer.location)
    assert "21 holes of the batch are left" in words(page)
    assert [True, False] == [f'value="{code}"' in page.text for code in ("T0002", "T0003")]
    assert 303 == at_work.post(f"{STATION}next-tap", data={"tap": "T0002"}).status_code
    assert ("21", "T0002") == (typed(at_work.get(STATION), "holes"), typed(at_work.get(STATION), "tap"))
    save(at_work, holes="21")
    first, second = shop.runs()
    assert (27, 21, first.batch_id, "packed chips in hole 27") == (
        first.holes, second.holes, second.batch_id, first.note,
    )  # fmt: skip
    assert 1 == shop.count(Incident)
    assert "left of batch" not in words(at_work.get(STATION))


def test_a_break_at_an_unknown_hole_asks_for_the_rest(at_work: FlaskClient) -> None:
    """Nothing is filled in: nobody knows how many are left."""
    save_broken(at_work, broke_at_hole="", hole_not_known="y")
    at_work.post(f"{STATION}next-tap", data={"tap": "T0002"})
    page = at_work.get(STATION)
    assert "Holes still to make with this tap" in words(page)
    assert "" == typed(page, "holes")


def test_a_worn_tap_leaves_what_it_did_not_make(at_work: FlaskClient) -> None:
    """120 were offered, 30 made."""
    page = at_work.get(save(at_work, holes="30", tap_end="worn").location)
    assert "90 holes of the batch are left" in words(page)


def test_a_tap_from_the_box_is_given_a_code_to_write_on_it(at_work: FlaskClient, shop: Shop) -> None:
    """The next free code, shown large."""
    save_broken(at_work)
    answer = at_work.post(f"{STATION}next-tap", data={"tap_type": "M8 spiral point"})
    page = at_work.get(answer.location)
    assert "Write this code on the new tap: T0004" in words(page)
    assert "T0004" == typed(page, "tap")
    assert 4 == shop.count(Tap)


def test_no_more_holes_ends_the_batch(at_work: FlaskClient) -> None:
    """The station then asks for its tap."""
    save_broken(at_work)
    at_work.post(f"{STATION}end-batch")
    assert "Which tap is in the station?" in words(at_work.get(STATION))


@pytest.mark.parametrize(
    ("chosen", "told", "status"),
    [
        ({}, "no tap is chosen", 400),
        ({"tap": "T9999"}, "'T9999' is not a tap of this shop", 400),
        ({"tap": "T0003"}, "T0003 cuts M6; fit a tap for M8", 400),
        ({"tap": "T0001"}, "T0001 is broken; fit another tap", 409),
        ({"tap_type": "M99"}, "'M99' is not a tap type of this shop", 400),
        ({"tap": "😀" * 99}, "is not a tap of this shop", 400),
    ],
)
def test_a_tap_that_cannot_go_in_is_refused(
    at_work: FlaskClient, shop: Shop, chosen: dict[str, str], told: str, status: int
) -> None:
    """The message says why; the typed code stays."""
    save_broken(at_work)
    answer = at_work.post(f"{STATION}next-tap", data=chosen)
    assert status == answer.status_code
    assert told in words(answer)
    assert "<title>Error:" in answer.text
    assert chosen.get("tap", "") == typed(answer, "tap")
    assert 3 == shop.count(Tap)


def test_a_scanned_code_fits_a_tap_in_any_case(at_work: FlaskClient) -> None:
    """As a scanner or a thumb writes it."""
    save_broken(at_work)
    assert 303 == at_work.post(f"{STATION}next-tap", data={"tap": " t0002 "}).status_code
    assert "T0002" == typed(at_work.get(STATION), "tap")


def test_a_tap_of_another_thread_is_said_plainly(at_work: FlaskClient) -> None:
    """J-2 needs M6; T0001 cuts M8."""
    at_work.post(f"{STATION}job", data={"job": "J-2"})
    page = at_work.get(STATION)
    assert "T0001 in this station cuts M8; this job needs M6" in words(page)
    assert 'value="T0003"' in page.text


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, "holes logged; it came used, earlier holes not known"),
        ({"used": "number", "holes_before": "150"}, "150 holes so far"),
        ({"used": "none"}, "0 holes so far"),
    ],
)
def test_a_tap_that_is_not_in_the_list_is_received_and_fitted(
    at_work: FlaskClient, shop: Shop, changes: dict[str, str], told: str
) -> None:
    """It is in the station and ready for the batch, and the crib's stock is what it was."""
    before = ledger(shop.work, "M8 spiral point").balance
    answer = at_work.post(f"{STATION}found-tap", data=found(**changes))
    page = at_work.get(answer.location)
    assert ("OLD-1", True) == (typed(page, "tap"), told in words(page))
    assert before == ledger(shop.work, "M8 spiral point").balance
    assert 303 == save(at_work).status_code
    assert "OLD-1" in words(at_work.get(f"{STATION}entries"))


def test_a_found_tap_without_a_code_is_given_one(at_work: FlaskClient, shop: Shop) -> None:
    """The next free one, to write on it; the same form twice receives it once."""
    form = found(tap="")
    pages = [at_work.get(at_work.post(f"{STATION}found-tap", data=form).location) for _ in range(2)]
    assert ["T0004"] * 2 == [typed(page, "tap") for page in pages]
    assert "Write this code on the new tap: T0004" in words(pages[0])
    assert 4 == shop.count(Tap)


@pytest.mark.parametrize("address", [f"{STATION}next-tap", STATION])
def test_a_tap_that_is_not_in_the_list_has_its_way(at_work: FlaskClient, address: str) -> None:
    """Wherever taps are offered, folded away until it is wanted; the only tap type of the thread stands there."""
    save_broken(at_work)
    at_work.post(f"{STATION}end-batch")
    page = at_work.get(address)
    assert "This tap is not in the list" in words(page)
    assert re.search(r'<option selected value="M8 spiral point">', page.text)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"tap": "T0002"}, "'T0002' is taken; give a code that no tap has"),
        ({"tap_type": ""}, "Tap type: it is missing"),
        ({"tap_type": "M6 spiral flute"}, "M6 spiral flute cuts M6; choose one for M8"),
        ({"tap_type": "M99"}, "'M99' is not a tap type of this shop"),
        ({"used": ""}, "Holes already on it: it is missing"),
        ({"used": "some"}, "'some' is not known; use one of: none, number, not known"),
        ({"used": "number"}, "How many holes: it is missing"),
        ({"used": "number", "holes_before": "-3"}, "-3 is out of range"),
        ({"used": "number", "holes_before": "1000001"}, "1,000,001 is out of range"),
        ({"holes_before": "7"}, "7 holes are given but 'Used, nobody knows how much' is chosen"),
        ({"tap": "x" * 65}, "it has 65 characters"),
        ({"id": "?"}, "is not a UUID"),
    ],
)
def test_a_found_tap_that_cannot_be_is_refused(
    at_work: FlaskClient, shop: Shop, changes: dict[str, str], told: str
) -> None:
    """The field is named, what was typed stays in the open form, and nothing is written."""
    form = found(**changes)
    answer = at_work.post(f"{STATION}found-tap", data=form)
    assert (400, True) == (answer.status_code, told in words(answer))
    assert form["found-tap"] == typed(answer, "found-tap")
    assert form["found-holes_before"] == typed(answer, "found-holes_before")
    assert "id" in changes or '<details class="more" open>' in answer.text
    assert 3 == shop.count(Tap)


def test_a_receipt_of_another_tap_is_not_taken_for_this_one(at_work: FlaskClient, shop: Shop) -> None:
    """The id of another movement is refused: 409, and the station keeps its tap."""
    receipt = uuid.uuid4()
    receive_tap(shop.work, "N-1", "M6 spiral flute", "ben", receipt=receipt)
    assert 409 == at_work.post(f"{STATION}found-tap", data=found(id=str(receipt))).status_code
    assert "T0001" == typed(at_work.get(STATION), "tap")


def test_undo_takes_one_touch(at_work: FlaskClient, shop: Shop) -> None:
    """The run counts no longer, and its holes are off the tap."""
    save(at_work)
    (run,) = shop.runs()
    answer = at_work.post(f"{STATION}entries/{run.id}/undo")
    page = words(at_work.get(answer.location))
    assert "Undone: 48 holes on T0001 removed." in page
    assert "0 holes so far" in page
    assert 1 == shop.count(Cancellation)


def test_undoing_a_break_brings_the_tap_back_and_ends_the_batch(at_work: FlaskClient, shop: Shop) -> None:
    """As if it had not been entered."""
    save_broken(at_work)
    at_work.post(f"{STATION}entries/{shop.runs()[0].id}/undo")
    page = at_work.get(STATION)
    assert ("T0001", "") == (typed(page, "tap"), typed(page, "holes"))


def test_undoing_another_entry_leaves_the_batch_open(at_work: FlaskClient, shop: Shop) -> None:
    """The rest of the batch in hand is still offered."""
    save(at_work)
    save_broken(at_work)
    at_work.post(f"{STATION}entries/{shop.runs()[0].id}/undo")
    assert "21 holes of the batch are left" in words(at_work.get(f"{STATION}next-tap"))


def test_undo_is_over_after_a_while(at_work: FlaskClient, shop: Shop) -> None:
    """The button is gone, and a late touch is refused."""
    location = save(at_work).location
    (run,) = shop.runs()
    shop.clock.move(minutes=31)
    assert "Undo" not in words(at_work.get(location))
    answer = at_work.post(f"{STATION}entries/{run.id}/undo")
    assert 409 == answer.status_code
    assert "correct it with a reason" in words(answer)
    assert 0 == shop.count(Cancellation)


def correction(client: FlaskClient, run: Run, **changes: str) -> TestResponse:
    """Correct an entry as its form was drawn, but for the changes."""
    page = client.get(f"{STATION}entries/{run.id}/correct")
    names = ("id", "holes", "cutting_slips", "tap", "rpm", "broke_at_hole")
    drawn = {name: typed(page, name) for name in names} | {"person": "ada", "job": "J-1", "tap_end": "still good"}
    return client.post(f"{STATION}entries/{run.id}/correct", data=drawn | changes)


def test_a_correction_supersedes_and_both_stay_readable(at_work: FlaskClient, shop: Shop) -> None:
    """The book shows the new entry, and the old one with who and why."""
    save(at_work)
    (run,) = shop.runs()
    at_work.post(f"{STATION}person", data={"person": "ben"})
    assert 303 == correction(at_work, run, holes="46", reason="two were drilled only").status_code
    page = words(at_work.get(f"{STATION}entries"))
    assert "46 holes on T0001" in page
    assert "Corrected 2026-03-02 08:01, Ben O.: two were drilled only" in page


def test_a_correction_sent_twice_is_stored_once(at_work: FlaskClient, shop: Shop) -> None:
    """The second is the first."""
    save(at_work)
    (run,) = shop.runs()
    new_id = str(uuid.uuid4())
    answers = [correction(at_work, run, id=new_id, holes="46", reason="miscounted") for _ in range(2)]
    assert [303, 303] == [answer.status_code for answer in answers]
    assert 2 == shop.count(Run)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"holes": "46"}, "Why is it corrected? it is missing"),
        ({"holes": "0", "reason": "typo"}, "Holes: 0 is out of range"),
        ({"tap": "T9999", "reason": "typo"}, "Tap: 'T9999' is not a tap of this shop"),
        ({"person": "nobody", "reason": "typo"}, "Operator: 'nobody' is not a person of this shop"),
        ({"tap_end": "broken", "reason": "typo"}, "Broke at which hole? it is missing"),
    ],
)
def test_a_bad_correction_is_refused(at_work: FlaskClient, shop: Shop, changes: dict[str, str], told: str) -> None:
    """400, named by field, typed values kept, nothing written."""
    save(at_work)
    (run,) = shop.runs()
    answer = correction(at_work, run, **changes)
    assert 400 == answer.status_code
    assert told in words(answer)
    assert changes.get("holes", "48") == typed(answer, "holes")
    assert 1 == shop.count(Run)


def test_a_correction_of_what_was_corrected_is_refused(at_work: FlaskClient, shop: Shop) -> None:
    """409: the newest entry is the one to correct."""
    save(at_work)
    run = shop.runs()[0]
    correction(at_work, run, holes="46", reason="miscounted")
    answer = correction(at_work, run, holes="45", reason="miscounted again")
    assert 409 == answer.status_code
    assert "corrected or cancelled in the meantime" in words(answer)


def test_a_cancellation_needs_a_reason_and_keeps_it(at_work: FlaskClient, shop: Shop) -> None:
    """Without one 400; with one the entry counts no longer and says why."""
    save(at_work)
    (run,) = shop.runs()
    address = f"{STATION}entries/{run.id}/cancel"
    assert 400 == at_work.post(address).status_code
    assert 0 == shop.count(Cancellation)
    assert 303 == at_work.post(address, data={"cancel-reason": "wrong tablet"}).status_code
    assert "Cancelled 2026-03-02 08:01, Ada K.: wrong tablet" in words(at_work.get(f"{STATION}entries"))


def test_an_entry_of_another_station_is_not_found_here(at_work: FlaskClient, shop: Shop) -> None:
    """Nor can it be undone from here."""
    run = shop.log(station="air-1", rpm=350)
    assert 404 == at_work.get(f"{STATION}entries/{run}/correct").status_code
    assert 404 == at_work.post(f"{STATION}entries/{run}/undo").status_code


def test_many_jobs_fold_out(at_work: FlaskClient, shop: Shop) -> None:
    """Eight at once, the rest under 'All jobs'."""
    shop.add(*(Job(code=f"K-{n}", part="part", material_id=1, thread="M8") for n in range(10)))
    assert "All jobs (4 more)" in words(at_work.get(f"{STATION}job"))


def test_a_station_with_a_slash_in_its_code_has_its_pages(client: FlaskClient, shop: Shop) -> None:
    """Codes are the shop's own."""
    shop.add(Station(code="hall 1/2", name="Press"))
    assert "/operator/hall%201/2/" in client.get("/operator/").text
    assert 200 == client.get("/operator/hall%201/2/person").status_code


@pytest.mark.parametrize("query", ["saved=x", f"saved={NOWHERE}", "undone=0", "holes=999999999999", "fitted=%22%3E"])
def test_a_strange_address_does_no_harm(at_work: FlaskClient, query: str) -> None:
    """The page is drawn without the notice."""
    assert 200 == at_work.get(f"{STATION}?{query}").status_code


def test_an_address_that_nobody_can_write_is_no_page(at_work: FlaskClient) -> None:
    """A NUL in what was fitted is refused as it arrives."""
    assert 404 == at_work.get(f"{STATION}?fitted=%00").status_code


def test_a_log_that_came_in_is_not_asked_for_again(sqlite_url: str, tmp_path: Path) -> None:
    """With nothing but seven columns in the record, the first page says what is left to name, not how to import."""
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path / "instance"))
    client = create_app(work).test_client()
    assert "runs import" in words(client.get("/operator/"))
    path = tmp_path / "log.csv"
    path.write_text("when,tap,tap type,material,rpm,holes,tap end\n2026-03-01,A1,M8 SP,steel,250,48,good\n")
    import_runs(work, path)
    told = words(client.get("/operator/"))
    work.close()
    assert "runs import" not in told
    assert "No station is on record yet. The log is imported" in told
    assert "add what the log did not name: who works, at which stations, on which jobs" in told


def test_rising_slips_are_told_with_what_to_look_at(at_work: FlaskClient, shop: Shop) -> None:
    """Figures against what is usual, then the causes in their order; the reason of the suggestion gives way."""
    for _ in range(12):
        shop.log(tap="T0002", holes=50, cutting_slips=1)
    assert "Cutting slips rise" not in words(at_work.get(STATION))
    for slips in (1, 5, 4, 6):
        shop.log(holes=50, cutting_slips=slips)
    told = words(at_work.get(STATION))
    assert "Cutting slips rise 15 slips in the last 150 holes, about 3 is usual. Look first: dull tap, packed" in told
