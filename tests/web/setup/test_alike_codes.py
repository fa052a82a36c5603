"""The page on which a supervisor renames codes that look alike."""

from __future__ import annotations

from flask.testing import FlaskClient
from sqlalchemy import select, update

from shopfloor.store import Station, Tap
from tests.web.conftest import Shop
from tests.web.gate import close


def _twins(shop: Shop) -> None:
    """As an upgrade leaves them: without a key."""
    shop.add(Station(code="ARM\u20111", name="Twin", code_key=None))
    with shop.work.write() as session:
        session.execute(update(Station).where(Station.code.in_(["arm-1", "ARM\u20111"])).values(code_key=None))
        session.execute(update(Station).where(Station.code == "ARM\u20111").values(code="ARM-1"))


def test_two_stations_are_told_apart(shop: Shop, client: FlaskClient) -> None:
    """The first page says so; the one that is renamed leaves the other alone, and labels are to be printed anew."""
    assert "look like one another" not in client.get("/setup/").text
    assert "No two codes look alike" in client.get("/setup/codes").text
    _twins(shop)
    assert "look like one another" in client.get("/setup/").text
    page = client.get("/setup/codes").text
    assert "&#39;arm-1&#39;, &#39;ARM-1&#39;" in page
    sent = {"kind": "stations", "code": "ARM-1", "person": "ben"}
    refused = client.post("/setup/codes", data={**sent, "new_code": "AIR-1"})
    assert (400, True) == (refused.status_code, "is taken" in refused.text)
    done = client.post("/setup/codes", data={**sent, "new_code": "arm-9"}, follow_redirects=True).text
    assert "print new ones" in done
    assert "No two codes look alike" in done
    with shop.work.read() as session:
        assert [("air-1", "air-1"), ("arm-1", "arm-1"), ("arm-9", "arm-9")] == sorted(
            tuple(row) for row in session.execute(select(Station.code, Station.code_key))
        )


def test_whoever_is_no_supervisor_renames_nothing(shop: Shop, client: FlaskClient) -> None:
    """Others are told who may."""
    gate = close(shop, client)
    assert [403, 200] == [gate.as_(one).get("/setup/codes").status_code for one in ("ben", "sue")]
    assert 403 == gate.as_("ada").post("/setup/codes", data={}).status_code


def test_a_tap_is_found_by_a_part_of_its_code(shop: Shop, client: FlaskClient) -> None:
    """Capital or not, also beyond English letters."""
    with shop.work.read() as session:
        kind = session.scalars(select(Tap.tap_type_id)).first()
    shop.add(Tap(code="B\u00d6HLE-7", tap_type_id=kind, regrinds=0, holes_before=0))
    from shopfloor.services.record.life_summaries import rebuild

    rebuild(shop.work)
    assert "B\u00d6HLE-7" in client.get("/crib/taps?code=b\u00f6h").text
