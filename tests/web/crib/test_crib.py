"""The crib's pages: what they show, what they refuse and in which words."""

from __future__ import annotations

import re
import uuid
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.test import TestResponse

from shopfloor.app import create_app
from shopfloor.core.vocabulary import MovementKind
from shopfloor.services.crib.orders import ledger
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.movements import move_tap
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import GaugeCheck, StockMovement, Tap, TapType
from tests.web.conftest import Shop

M8 = "M8 spiral point"
PAGES = [
    "/crib/",
    "/crib/?station=arm-1&sort=change",
    "/crib/orders",
    "/crib/taps",
    "/crib/taps/T0001",
    "/crib/receive",
    "/crib/types/new",
    f"/crib/stock/{M8}",
]
ADDRESSES = ["/crib/gauge/T0001", "/crib/moves/T0001", f"/crib/stock/{M8}", "/crib/receive", "/crib/types/new"]
FIELDS = ["id", "result", "movement", "person", "note", "number", "codes", "used", "holes_before", "code", "unit_cost"]


def text(response: TestResponse) -> str:
    """What a page says, without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.text))


def check(**fields: object) -> dict[str, Any]:
    """The form of a gauge check, filled in."""
    values = {"id": str(uuid.uuid4()), "result": "passed", "person": "ben", "note": "", **fields}
    return {f"gauge-{name}": value for name, value in values.items()}


def movement(kind: str, **fields: object) -> dict[str, Any]:
    """The form that moves a tap, filled in."""
    values = {"id": str(uuid.uuid4()), "movement": kind, "person": "ben", "note": "", **fields}
    return {f"move-{name}": value for name, value in values.items()}


def delivery(**fields: object) -> dict[str, Any]:
    """The form of a delivery, filled in: five new, unmarked M8 taps."""
    values = {"id": str(uuid.uuid4()), "tap_type": M8, "number": "5", "codes": "", "lot": "N-7", "used": "none"}
    return {**values, "holes_before": "", "person": "ben", "note": "", **fields}


def lives(shop: Shop) -> None:
    """Five M8 taps that broke, so that there is something to foretell from."""
    for age in (150, 300, 400, 430, 650):
        tap = shop_tap(shop)
        shop.log(tap=tap, holes=age, tap_end="broken", broke_at_hole=age)


def shop_tap(shop: Shop) -> str:
    """One more M8 tap with a code."""
    return receive_tap(shop.work, None, M8, "ben")


@pytest.mark.parametrize("address", PAGES)
def test_every_page_opens(shop: Shop, client: FlaskClient, address: str) -> None:
    """One heading that opens the title, no inline script or style, each input with its label."""
    shop.log()
    page = client.get(address)
    assert 200 == page.status_code
    heading = re.findall(r"<h1>(.*?)</h1>", page.text)
    assert 1 == len(heading)
    assert re.search(rf"<title>{re.escape(heading[0])}", page.text)
    assert not re.search(r"<script(?![^>]*src=)|\sstyle=|\son\w+=", page.text)
    ids = re.findall(r'\sid="([^"]+)"', page.text)
    assert len(set(ids)) == len(ids)


def test_the_board_tells_risk_holes_left_and_evidence(shop: Shop, client: FlaskClient) -> None:
    """A tap with 60 holes: in words, with an interval and what it rests on."""
    lives(shop)
    shop.log(holes=60)
    page = text(client.get("/crib/"))
    assert "0 taps to change now" in page
    assert re.search(r"T0001 M8 spiral point", page)
    assert re.search(r"1 in [\d,]+ 1 in [\d,]+ to 1 in [\d,]+", page)
    assert re.search(r"6 taps, 5 failures, 1,990 holes ?; \d+ % from like taps", page)


def test_a_tap_past_its_change_is_due_now(shop: Shop, client: FlaskClient) -> None:
    """Word and shape say it, and the bar has words for those who cannot see it."""
    for age in (380, 400, 410, 430, 450):
        shop.log(tap=shop_tap(shop), holes=age, tap_end="broken", broke_at_hole=age)
    shop.log(holes=400)
    page = client.get("/crib/")
    assert "1 tap to change now, 0 in their next batch, 0 good for now" in text(page)
    assert '<span class="state state-bad">Change now</span>' in page.text
    assert re.search(r'aria-label="400 holes so far, \d+ to come, change suggested at \d+"', page.text)


def test_taps_with_unknown_holes_are_said_to_be_so(shop: Shop, client: FlaskClient) -> None:
    """No figure stands where nobody knows one."""
    receive_tap(shop.work, "OLD", M8, "ben", holes_before=None)
    shop.log(tap="OLD", holes=30)
    page = text(client.get("/crib/"))
    assert "not known 30 logged" in page
    assert "Nobody knows how many holes were on it" in page


def test_an_empty_record_says_what_to_do_first(sqlite_url: str, tmp_path: Any) -> None:
    """Every page of the crib opens on nothing and points to the way in."""
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path / "instance"))
    client = create_app(work).test_client()
    for address in ("/crib/", "/crib/orders", "/crib/taps"):
        assert "shopfloor runs import FILE.csv" in client.get(address).text
    assert "add a person first" in client.get("/crib/receive").text
    work.engine.dispose()


def test_a_known_code_leads_to_its_tap(client: FlaskClient) -> None:
    """Typed in small letters all the same."""
    assert "/crib/taps/T0001" == client.get("/crib/taps?code=t0001").location


@pytest.mark.parametrize("address", ["/crib/taps?code=T00", "/crib/taps/T00"])
def test_an_unknown_code_is_said_and_kept(client: FlaskClient, address: str) -> None:
    """404 with the typed code in the field and the taps whose code holds it."""
    page = client.get(address)
    assert 404 == page.status_code
    assert "'T00' is not a tap of this shop" in page.text.replace("&#39;", "'")
    assert 'value="T00"' in page.text
    assert "T0002" in page.text


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/crib/?station=nowhere", 400),
        ("/crib/?sort=colour", 400),
        ("/crib/stock/M99", 404),
        ("/crib/taps/%00", 404),
        ("/crib/taps?code=%00", 404),
        ("/crib/nothing", 404),
    ],
)
def test_unknown_addresses_are_refused(client: FlaskClient, address: str, status: int) -> None:
    """An answer of its own kind, never a failure of ours."""
    assert status == client.get(address).status_code


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["station", "sort", "code", "all", "tap_type"]), st.text(max_size=40), st.sampled_from(PAGES))
def test_no_query_string_breaks_a_page(client: FlaskClient, name: str, value: str, address: str) -> None:
    """Whatever stands in the address, the answer is a page, a redirect or a refusal."""
    value = value.encode("utf-8", "ignore").decode()
    assert client.get(address.partition("?")[0], query_string={name: value}).status_code < 500


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=30), st.sampled_from(ADDRESSES), st.sampled_from(FIELDS))
def test_no_text_in_any_field_breaks_a_form(client: FlaskClient, value: str, address: str, field: str) -> None:
    """Any text in any field gives a message or is stored, never a failure of ours."""
    form = {**check(), **movement("returned to the crib"), **delivery()}
    prefixes = {"/crib/gauge/T0001": "gauge-", "/crib/moves/T0001": "move-"}
    form[prefixes.get(address, "") + field] = value.encode("utf-8", "ignore").decode()
    assert client.post(address, data=form).status_code < 500


def test_a_gauge_check_is_kept_and_ends_a_worn_life(shop: Shop, client: FlaskClient) -> None:
    """Passed at 48, failed at 96: worn at a hole in between; the page says so."""
    shop.log()
    for result in ("passed", "failed"):
        shop.clock.move(minutes=1)
        assert 303 == client.post("/crib/gauge/T0001", data=check(result=result)).status_code
        if result == "passed":
            shop.log()
    assert "Worn at hole 49 to 96" in text(client.get("/crib/taps/T0001"))


def test_a_gauge_check_sent_twice_is_stored_once(shop: Shop, client: FlaskClient) -> None:
    """A double touch on a slow network makes one check."""
    shop.log()
    form = check()
    for _ in range(2):
        assert 303 == client.post("/crib/gauge/T0001", data=form).status_code
    assert 1 == shop.count(GaugeCheck)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"result": ""}, "it is missing"),
        ({"result": "perhaps"}, "'perhaps' is not known"),
        ({"person": ""}, "it is missing"),
        ({"person": "nobody"}, "'nobody' is not a person of this shop"),
        ({"note": "x" * 2001}, "it has 2,001 characters"),
        ({"id": "7"}, "'7' is not a UUID"),
    ],
)
def test_a_bad_gauge_check_is_refused_at_its_field(
    shop: Shop, client: FlaskClient, changes: dict[str, str], words: str
) -> None:
    """400, the field named, the note kept, nothing written."""
    page = client.post("/crib/gauge/T0001", data=check(**{"note": "thread torn", **changes}))
    assert 400 == page.status_code
    assert words in page.text.replace("&#39;", "'")
    assert "<title>Error: Tap T0001" in page.text
    assert changes.get("note", "thread torn") in page.text
    assert 0 == shop.count(GaugeCheck)


def test_a_tap_goes_to_the_crib_to_regrind_and_back(shop: Shop, client: FlaskClient) -> None:
    """Each step is offered when it can be, and the page says where the tap is."""
    shop.log()
    for kind, place in (
        ("returned", "in the crib"),
        ("sent to regrind", "away for regrinding"),
        ("reground", "1 regrind, in the crib"),
        ("lost", "lost"),
    ):
        shop.clock.move(minutes=1)
        assert f'value="{kind}"' in client.get("/crib/taps/T0001").text
        assert 303 == client.post("/crib/moves/T0001", data=movement(kind)).status_code
        assert place in text(client.get("/crib/taps/T0001"))
    assert "Move the tap" not in client.get("/crib/taps/T0001").text


def test_what_cannot_be_is_refused_with_the_reason(shop: Shop, client: FlaskClient) -> None:
    """A broken tap cannot be reground: 409 and nothing written."""
    shop.log(tap_end="broken")
    before = shop.count(StockMovement)
    page = client.post("/crib/moves/T0001", data=movement("sent to regrind"))
    assert 409 == page.status_code
    assert "T0001 is broken" in page.text
    assert before == shop.count(StockMovement)


@pytest.mark.parametrize("address", ["/crib/gauge/T99", "/crib/moves/T99"])
def test_an_unknown_tap_cannot_be_booked(client: FlaskClient, address: str) -> None:
    """404, as on its page."""
    assert 404 == client.post(address, data={**check(), **movement("lost")}).status_code


def test_unmarked_taps_are_received_for_the_box(shop: Shop, client: FlaskClient) -> None:
    """Five more of two: the ledger page shows it with its lot."""
    form = delivery()
    for _ in range(2):
        answer = client.post("/crib/receive", data=form)
        assert 303 == answer.status_code
    page = text(client.get(answer.location))
    assert "6 in the crib" in page
    assert "lot N-7" in page


def test_marked_taps_are_received_by_their_codes(shop: Shop, client: FlaskClient) -> None:
    """Three codes, whatever stands between them, with holes on them already."""
    form = delivery(codes="A1\r\nA2, A3", number="", used="number", holes_before="120")
    assert 303 == client.post("/crib/receive", data=form).status_code
    assert [120] * 3 == [tap_history(shop.work, code).present.entry for code in ("A1", "A2", "A3")]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"tap_type": ""}, "it is missing"),
        ({"tap_type": "M99"}, "'M99' is not a tap type of this shop"),
        ({"number": ""}, "it is missing"),
        ({"number": "0"}, "0 is out of range"),
        ({"number": "-1"}, "-1 is out of range"),
        ({"number": "1000000000"}, "1,000,000,000 is out of range"),
        ({"number": "five"}, "'five' is not a whole number"),
        ({"number": "3", "codes": "A1\nA2"}, "3 taps but 2 codes"),
        ({"number": "", "codes": "A1\na1"}, "'a1' appears twice"),
        ({"number": "", "codes": "T0001"}, "'T0001' is taken"),
        ({"number": "", "codes": "x" * 65}, "is not a code"),
        ({"used": "number"}, "it is missing"),
        ({"used": "none", "holes_before": "40"}, "40 holes are given"),
        ({"used": "surely"}, "is not known; use one of: none, number, not known"),
        ({"lot": "x" * 65}, "it has 65 characters"),
        ({"person": "nobody"}, "'nobody' is not a person of this shop"),
    ],
)
def test_a_bad_delivery_is_refused_at_its_field(
    shop: Shop, client: FlaskClient, changes: dict[str, str], words: str
) -> None:
    """400, the words at the field and in the summary, typed values kept, nothing written."""
    before = shop.count(StockMovement), shop.count(Tap)
    page = client.post("/crib/receive", data=delivery(**{"note": "left by the door", **changes}))
    assert 400 == page.status_code
    assert page.text.replace("&#39;", "'").casefold().count(words.casefold()) >= 2
    assert 'aria-invalid="true"' in page.text or "field-error" in page.text
    assert "left by the door" in page.text
    assert before == (shop.count(StockMovement), shop.count(Tap))


def test_the_box_can_be_counted(shop: Shop, client: FlaskClient) -> None:
    """Four are found where one is booked: the ledger says four."""
    form = {"id": str(uuid.uuid4()), "movement": "counted", "number": "4", "person": "ben", "note": ""}
    assert 303 == client.post(f"/crib/stock/{M8}", data=form).status_code
    assert 4 == ledger(shop.work, M8).balance


def test_more_than_is_there_cannot_leave_the_box(shop: Shop, client: FlaskClient) -> None:
    """409, and what to do first."""
    form = {"id": str(uuid.uuid4()), "movement": "scrapped", "number": "9", "person": "ben", "note": ""}
    page = client.post(f"/crib/stock/{M8}", data=form)
    assert 409 == page.status_code
    assert "count the box first" in page.text
    assert 1 == ledger(shop.work, M8).balance


def test_a_new_tap_type_leads_on_to_receiving_it(shop: Shop, client: FlaskClient) -> None:
    """Its code may hold what addresses are made of."""
    form = {"code": "3/8-16 #1 ?&", "thread": "3/8-16", "style": "spiral point", "unit_cost": "9.50"}
    answer = client.post("/crib/types/new", data=form)
    assert 303 == answer.status_code
    assert '<option selected value="3/8-16 #1 ?&amp;">' in client.get(answer.location).text
    answer = client.post("/crib/receive", data=delivery(tap_type="3/8-16 #1 ?&"))
    assert "5 in the crib" in client.get(answer.location).text


def test_a_bad_tap_type_is_refused_with_all_its_problems(shop: Shop, client: FlaskClient) -> None:
    """Thread and price at once, typed values kept, nothing written."""
    form = {"code": "New one", "thread": "banana", "unit_cost": "cheap"}
    page = client.post("/crib/types/new", data=form)
    assert 400 == page.status_code
    for words in ("is not a thread designation", "is not a price", 'value="New one"', 'value="banana"'):
        assert words in page.text
    assert 2 == shop.count(TapType)


def test_a_form_of_somebody_else_is_refused(shop: Shop) -> None:
    """Without the page's token nothing is stored."""
    client = create_app(shop.work).test_client()
    assert 400 == client.post("/crib/gauge/T0001", data=check()).status_code
    assert 0 == shop.count(GaugeCheck)


def test_the_order_list_says_why(shop: Shop, client: FlaskClient) -> None:
    """Taps to order, and those of which there is enough, each with a sentence that can be checked."""
    lives(shop)
    page = text(client.get("/crib/orders"))
    assert re.search(
        r"\d+ in the crib; about [\d.]+ will be used in 14 days \(.*?\); \d+ cover 95 % of such waits", page
    )


def test_an_order_without_a_price_says_so(shop: Shop, client: FlaskClient) -> None:
    """The sum is of the others; where to give the price stands beside it, and amounts carry the currency."""
    with shop.work.write() as session:
        session.add(TapType(code="no price", thread="M8"))
    for _ in range(3):
        code = receive_tap(shop.work, None, "no price", "ben")
        shop.clock.move(minutes=1)
        fit_tap(shop.work, code, "arm-1", "ada")
        shop.log(tap=code, tap_end="worn")
    own = replace(shop.work.settings, currency="EUR")
    page = text(create_app(replace(shop.work, settings=own)).test_client().get("/crib/orders"))
    assert re.search(r"\d+ tap types? to order, [\d,]+\.\d\d EUR in all not counting 1 without a price", page)
    assert "No price: give it under the tap type's code." in page
    assert "assumed cost of 20.00 EUR a tap" in page


def test_a_board_of_a_station_keeps_its_choice(shop: Shop, client: FlaskClient) -> None:
    """The filter shows what it filters by."""
    shop.log()
    assert '<option value="arm-1" selected>arm-1' in client.get("/crib/?station=arm-1").text.replace(
        ' selected="selected"', " selected"
    )
    assert "No tap is in service at air-1" in client.get("/crib/?station=air-1").text


def test_the_person_is_offered_next_time(shop: Shop, client: FlaskClient) -> None:
    """Whoever booked last is chosen already."""
    shop.log()
    client.post("/crib/gauge/T0001", data=check(person="ben"))
    assert '<option selected value="ben">' in client.get("/crib/receive").text


def test_a_used_tap_in_the_crib_is_not_called_in_service(shop: Shop, client: FlaskClient) -> None:
    """In a station it is in service; brought back it is a used tap that is still good, on every page."""
    shop.log()
    assert "In service" in text(client.get("/crib/taps"))
    shop.clock.move(minutes=1)
    move_tap(shop.work, uuid.uuid4(), "T0001", MovementKind.RETURNED, "ben")
    for address in ("/crib/taps", "/crib/taps/T0001"):
        told = text(client.get(address))
        assert "Used, still good" in told
        assert "In service" not in told
    assert "in the crib Used, still good" in told


def test_the_ledger_names_marked_taps_and_says_where_it_disagrees(shop: Shop, client: FlaskClient) -> None:
    """One marked tap there; a tap out of an empty box makes the sum less than that."""
    assert re.search(r"Marked taps among them: T\d+", text(client.get(f"/crib/stock/{M8}")))
    fit_new_tap(shop.work, M8, "arm-1", "ada")
    told = text(client.get(f"/crib/stock/{M8}"))
    assert "0 in the crib according to the ledger, but 1 marked tap is there, so count the box" in told
