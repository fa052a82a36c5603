"""One story from the outside: a shop's own log comes in, a batch is logged on a tablet, and three boards answer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopfloor.app import create_app
from shopfloor.cli import main
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings

ARM = "/operator/arm-1/"
BATCH = ("id", "batch_id", "offered", "person", "job", "tap", "rpm", "cutting_slips")
SETTING_UP = {
    "people": {"code": "ada", "name": "Ada K.", "role": "operator"},
    "stations": {"code": "arm-1", "name": "Arm 1", "kind": "electric arm", "rpm_min": "25", "rpm_max": "500"},
    "jobs": {
        "code": "J-7", "part": "hinge", "material": "mild steel", "thread": "1/2-13", "holes_per_part": "4",
        "hole": "through", "hole_making": "drilled", "planned_quantity": "100", "planned_rpm": "250",
    },
}  # fmt: skip


def history() -> str:
    """A hand-written log: eight taps of one type that broke, and one that is still good."""
    rows = ["when,tap,tap type,material,rpm,holes,how the tap ended"]
    for number, age in enumerate((210, 260, 300, 330, 380, 420, 450, 520), start=1):
        rows += [f"2026-03-{number:02},A{number},1/2-13 spiral point,mild steel,250,{age - 20},good"]
        rows += [f"2026-03-{number:02},A{number},1/2-13 spiral point,mild steel,250,20,broken"]
    return "\n".join([*rows, "2026-03-20,A9,1/2-13 spiral point,mild steel,250,180,good"]) + "\n"


def words(answer: TestResponse) -> str:
    """What a page says, without its markup."""
    assert answer.status_code == 200, answer.text
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def drawn(client: FlaskClient, address: str, names: tuple[str, ...]) -> dict[str, str]:
    """The values that the form on that page already has."""
    page = client.get(address).text
    found = {name: re.search(rf'<input [^>]*name="{name}"[^>]*>', page) for name in names}
    values = {name: re.search(r'value="([^"]*)"', tag[0]) for name, tag in found.items() if tag}
    return {name: unescape(value[1]) for name, value in values.items() if value}


@pytest.fixture
def tablet(empty_sqlite_url: str, tmp_path: Path) -> Iterator[FlaskClient]:
    """A tablet in a shop that has just brought in its log with the command line."""
    log = tmp_path / "log.csv"
    log.write_text(history(), encoding="utf-8")
    done = CliRunner().invoke(main, ["runs", "import", str(log), "--database", empty_sqlite_url])
    assert "Stored 17 runs" in done.output
    work = Work.on(Settings(database=empty_sqlite_url, data_folder=tmp_path))
    app = create_app(work)
    app.config["WTF_CSRF_ENABLED"] = False
    yield app.test_client()
    work.close()


def test_the_first_working_day(tablet: FlaskClient) -> None:
    """From a file with seven columns to a replaced tap, a correction and three boards that know of it."""
    assert "8 breaks" in words(tablet.get("/quality/"))
    assert "8 failures" in words(tablet.get("/quality/life"))
    assert "A9" in words(tablet.get("/crib/"))
    for kind, thing in SETTING_UP.items():
        assert 303 == tablet.post(f"/setup/{kind}", data=thing).status_code

    tablet.post(f"{ARM}person", data={"person": "ada"})
    tablet.post(f"{ARM}job", data={"job": "J-7"})
    tablet.post(f"{ARM}next-tap", data={"tap": "A9"})
    station = words(tablet.get(ARM))
    assert "A9" in station
    assert "180 holes so far" in station
    assert "to break in the next" in station
    assert "based on 9 taps and 8 breaks" in station

    broken = {"holes": "60", "tap_end": "broken", "broke_at_hole": "40", "part_fate": "scrapped", "cause": "worn out"}
    saved = tablet.post(ARM, data=drawn(tablet, ARM, BATCH) | broken)
    assert saved.location.startswith(f"{ARM}next-tap?saved=")
    assert "20 holes of the batch are left" in words(tablet.get(saved.location))
    tablet.post(f"{ARM}next-tap", data={"tap_type": "1/2-13 spiral point"})
    assert (
        303 == tablet.post(ARM, data=drawn(tablet, ARM, BATCH) | {"holes": "20", "tap_end": "still good"}).status_code
    )
    assert "9 breaks" in words(tablet.get("/quality/"))
    assert "Used past its life" in words(tablet.get("/quality/incidents"))
    assert "Broke at hole 220" in words(tablet.get("/crib/taps/A9"))

    entries = tablet.get(f"{ARM}entries").text
    last, first = list(dict.fromkeys(re.findall(r"entries/([0-9a-f-]{36})/", entries)))[:2]
    assert 303 == tablet.post(f"{ARM}entries/{last}/undo").status_code
    again = f"{ARM}entries/{first}/correct"
    names = (*BATCH, "holes", "broke_at_hole")
    fixed = {"broke_at_hole": "35", "tap_end": "broken", "part_fate": "scrapped", "cause": "worn out"}
    fixed |= {"person": "ada", "job": "J-7"}
    corrected = tablet.post(again, data=drawn(tablet, again, names) | fixed | {"reason": "counted again"})
    assert 303 == corrected.status_code
    assert "Broke at hole 215" in words(tablet.get("/crib/taps/A9"))
    assert "9 breaks" in words(tablet.get("/quality/"))
