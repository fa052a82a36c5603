"""No page says a word that no catalogue knows: pages are drawn in a language in which each text of ours is marked."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from flask.testing import FlaskClient

from shopfloor.core.input.crib_entries import Delivery
from shopfloor.core.vocabulary import GaugeResult
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movements import receive
from shopfloor.services.runs.runs import cancel_run, undo_run
from shopfloor.web.i18n import language
from tests.web.conftest import Shop
from tests.web.gate import close
from tests.web.marked import CLOSE, OPEN, marking, texts_of_the_shop, unmarked
from tests.web.walk import TYPED, forms, kind, pages

NAMES = ("Turnbull", "Aalen-Johansen", "SHOPFLOOR_CHANGE_COST", "SHOPFLOOR_BREAK_COST", "SHOPFLOOR_WEAR_COST")
ADDRESSES = ("/sync/runs", "/sync/taps", "/sync/pin", f"/sync/runs/{uuid.UUID(int=7)}/undo", "/sync/nothing")
BODIES: list[Any] = [
    [],
    {},
    dict.fromkeys(("id", "when", "person", "station", "tap", "rpm", "holes", "slip_holes"), TYPED),
    {"id": str(uuid.UUID(int=7)), "when": "2031-01-01", "rpm": -7, "holes": -7, "tap_end": "broken"},
]
VALUES_TO_SEND = re.compile(r"⟦use (only: ⟧.*|one of: ⟧.*|⟧blind⟦ or ⟧through)|⟦'⟧\w+⟦'⟧⟦ is not a field here⟧")
"""What a program is to send instead: the same in every language."""


@pytest.fixture
def own(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A log with something of everything, told in the language of marks; the texts of the shop itself."""
    for _ in range(4):
        shop.log(cutting_slips=2, note=TYPED)
    undo_run(shop.work, shop.log())
    cancel_run(shop.work, shop.log(), TYPED, "ben")
    record_gauge_check(shop.work, uuid.uuid4(), "T0001", GaugeResult.PASSED, "ada", note=TYPED)
    # Nobody booked this one out; then the run that told so is taken back.
    undo_run(shop.work, shop.log(tap="T0002"))
    shop.log(tap="T0003", job="J-2", station="air-1", rpm=350)
    shop.log(tap_end="broken", broke_at_hole=20, cause="too fast", note=TYPED, part_fate="good")
    receive(shop.work, Delivery(uuid.uuid4(), "M8 spiral point", 3, (), 0, TYPED, TYPED), "ben")
    monkeypatch.setattr(language, "catalogue", marking)
    with shop.work.engine.connect() as connection:
        return [*texts_of_the_shop(connection), TYPED, *NAMES]


def test_the_marks_find_what_is_not_translated() -> None:
    """Also within a text that is, in what is read out, and in a figure."""
    page = (
        f'<p>{OPEN}Saved {CLOSE}by hand</p><p title="still good">T0001</p>'
        f"<p>{OPEN}Saved {OPEN}here{CLOSE}{CLOSE} 12</p>"
        '<script type="application/json">{"title": {"text": "Holes made"}, "type": "scatter"}</script>'
    )
    assert [f"{OPEN}Saved {CLOSE}by hand", "still good", "Holes made"] == unmarked(page, ())
    assert [] == unmarked("<p>qqq</p>", ["qqq"])


def test_every_page_is_of_one_language(client: FlaskClient, own: list[str]) -> None:
    """What is no name of the shop's went through a catalogue, also what the program wrote into the record itself."""
    told = {address: answer.text for address, answer in pages(client)}
    assert {"/operator/arm-1/entries", "/operator/arm-1/card", "/crib/taps/T0001", "/setup/jobs"} <= {*map(kind, told)}
    assert {} == {address: found for address, page in told.items() if (found := unmarked(page, own))}
    everything = "".join(told.values())
    for stored in ("undone by the operator", "taken without being booked out", "the run that told it", "lot "):
        assert f"{OPEN}{stored}" in everything


def test_every_complaint_is_of_the_pages_language(client: FlaskClient, own: list[str]) -> None:
    """Each form is sent with nothing in it, with nonsense, and with each field wrong by itself."""
    drawn = {kind(action): (action, fields) for _, page in pages(client) for action, fields in forms(page.text)}
    bare: dict[str, list[str]] = {}
    for action, fields in drawn.values():
        typed = [name for name in fields if not name.startswith(" ")]
        for wrong, value in [(typed, ""), (typed, TYPED), (typed, "-7"), *(([name], TYPED) for name in typed)]:
            data = {name.strip(): value if name in wrong else fields[name] for name in fields}
            answer = client.post(action, data=data, headers={"Accept-Language": "es"})
            if answer.status_code == 303:
                answer = client.get(answer.headers["Location"], headers={"Accept-Language": "es"})
            page = VALUES_TO_SEND.sub("", answer.text) if answer.mimetype == "text/html" else ""
            bare |= {action: found} if (found := unmarked(page, own)) else {}
    assert len(drawn) > 20
    assert {} == bare


def test_what_is_asked_back_is_of_the_pages_language(client: FlaskClient, own: list[str]) -> None:
    """Holes, slips, speed and taps that are hardly meant."""
    client.post("/operator/arm-1/person", data={"person": "ada"})
    client.post("/operator/arm-1/job", data={"job": "J-1"})
    batch = {"person": "ada", "job": "J-1", "tap": "T0002", "tap_end": "still good", "id": str(uuid.uuid4())}
    odd = batch | {"holes": "4800", "cutting_slips": "4000", "rpm": "50"}
    box = {"person": "ben", "id": str(uuid.uuid4()), "number": "900"}
    delivery = box | {"tap_type": "M8 spiral point", "used": "none"}
    sent = {
        "/operator/arm-1/": odd,
        "/crib/receive": delivery,
        "/crib/stock/M8 spiral point": box | {"movement": "counted"},
    }
    for address, data in sent.items():
        page = client.post(address, data=data, headers={"Accept-Language": "es"}).text
        assert 'name="sure"' in page, address
        assert [] == unmarked(page, own)


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_answer_of_an_address_is_of_the_tablets_language(
    client: FlaskClient, own: list[str], address: str
) -> None:
    """The tablet shows them in the list of its entries."""
    for body in BODIES:
        answer: Any = client.post(address, json=body, headers={"Accept-Language": "es"}).json
        told = [answer["error"], answer["remedy"]]
        told += [problem[name] for problem in answer["problems"] for name in ("what", "remedy")]
        assert [] == [text for text in told if not VALUES_TO_SEND.match(text) and unmarked(text, own)]


def test_the_lock_screen_and_who_gets_in_are_of_one_language(shop: Shop, client: FlaskClient, own: list[str]) -> None:
    """With PINs in use, for the supervisor and for nobody."""
    gate = close(shop, client)
    names = [*own, "Gil S.", "Sue V.", "Arm 1"]
    for address in ("/setup/access/", "/operator/", "/operator/who"):
        page = gate.as_("sue").get(address, headers={"Accept-Language": "es"})
        assert (200, []) == (page.status_code, unmarked(page.text, names))
    for address in ("/operator/who", "/operator/who/pin?person=ada", "/operator/who/password"):
        page = gate.enrolled().get(address, headers={"Accept-Language": "es"}, follow_redirects=True)
        assert (200, []) == (page.status_code, unmarked(page.text, names))
    assert [] == unmarked(gate.as_("ada").get("/setup/access/", headers={"Accept-Language": "es"}).text, names)
