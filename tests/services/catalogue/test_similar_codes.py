"""Codes that look alike: refused wherever they are entered; old ones stay until a supervisor renames them."""

from __future__ import annotations

import json
import uuid
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from shopfloor.cli.upgrade import command
from shopfloor.core.errors import InputError
from shopfloor.core.input.crib_entries import Delivery
from shopfloor.services.catalogue.similar_codes import alike, rename
from shopfloor.services.catalogue.tap_types import add_tap_type
from shopfloor.services.catalogue.things import add
from shopfloor.services.ledger.movements import receive
from shopfloor.services.ledger.taps import fit_new_tap, receive_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.fitting import fit_marked
from shopfloor.store import Earlier, Person, Run, Station, Tap
from shopfloor.store.upgrade import downgrade, upgrade
from tests.factories import Shop, open_shop
from tests.services.conftest import ON_BOTH

MISLEADING = ["e\u200bva", "\u202eeva", "\u0435va", "T\u0415ST", "--", "'", "x\ue000"]
THINGS: dict[str, dict[str, str]] = {
    "people": {"name": "Twin", "role": "operator"},
    "stations": {"name": "Twin", "kind": "air arm", "rpm_min": "1", "rpm_max": "2"},
    "materials": {"name": "Twin", "iso_group": "P"},
    "jobs": {
        "part": "Twin", "material": "steel", "thread": "M8", "holes_per_part": "1", "hole": "blind",
        "hole_making": "drilled",
    },
}  # fmt: skip


def _imported(work: Work, code: str, folder: Path, column: str) -> None:
    cells = {"when": "2026-05-04", "tap": "A1", "tap type": "M8 SP", "material": "steel", "rpm": "250", "holes": "4"}
    cells |= {"tap end": "good", column: code}
    path = folder / "log.csv"
    path.write_text(",".join(cells) + "\n" + ",".join(cells.values()) + "\n", encoding="utf-8")
    import_runs(work, path)


ENTRIES: dict[str, Any] = {
    **{kind: lambda work, code, _, kind=kind: add(work, kind, {"code": code, **THINGS[kind]}) for kind in THINGS},
    "tap type": lambda work, code, _: add_tap_type(work, {"code": code, "thread": "M8"}),
    "tap": lambda work, code, _: receive_tap(work, code, "M8 SP", "bo"),
    "delivery": lambda work, code, _: receive(work, Delivery(uuid.uuid4(), "M8 SP", 1, (code,)), "bo"),
    "fitted": lambda work, code, _: fit_new_tap(work, "M8 SP", "arm", "bo", code=code),
    "tablet": lambda work, code, _: fit_marked(
        work, {"id": str(uuid.uuid4()), "tap": code, "tap_type": "M8 SP", "station": "arm", "person": "ada"}
    ),
    **{
        f"import of {column}": lambda work, code, folder, column=column: _imported(work, code, folder, column)
        for column in ("tap", "tap type", "material", "station", "person", "job")
    },
}


@pytest.mark.parametrize("way", ENTRIES)
def test_a_code_that_misleads_is_accepted_nowhere(shop: Shop, tmp_path: Path, way: str) -> None:
    """What cannot be seen, what mixes scripts, what holds neither letter nor digit."""
    for code in MISLEADING:
        with pytest.raises(InputError, match=r"invisible character|mixes letters|is not a code"):
            ENTRIES[way](shop.work, code, tmp_path)


@pytest.mark.parametrize("kind", THINGS)
def test_what_looks_like_a_code_is_taken_for_it(shop: Shop, kind: str) -> None:
    """On both databases: composed or not, wide, capital, with more blanks."""
    add(shop.work, kind, {"code": "\u00c4rm  caf\u00e9", **THINGS[kind]})
    for twin in ("\u00e4rm cafe\u0301", "A\u0308RM   CAF\u00c9", "\uff41\u0308rm cafe\u0301"):
        with pytest.raises(InputError, match="is taken"):
            add(shop.work, kind, {"code": twin, **THINGS[kind]})


@ON_BOTH
def test_a_tap_is_found_however_it_is_typed(shop: Shop) -> None:
    """And a second one of a code that looks alike is refused."""
    receive_tap(shop.work, "B\u00d6-1", "M8 SP", "bo")
    with shop.work.read() as session:
        assert {"B\u00d6-1"} == {
            row.code for typed in ("b\u00f6-1", "bo\u0308-1", "B\u00d6-1") if (row := find_in(session, Tap, typed))
        }
    for way in ("tap", "delivery", "fitted", "tablet"):
        with pytest.raises(InputError, match="is taken"):
            ENTRIES[way](shop.work, "bo\u0308-1", Path())


@ON_BOTH
def test_an_import_finds_what_looks_alike(shop: Shop, tmp_path: Path) -> None:
    """The file of another program writes the same station wide, and the person in capitals: nothing is created."""
    _imported(shop.work, "\uff41\uff52\uff4d", tmp_path, "station")
    with shop.work.read() as session:
        assert ["air", "arm"] == sorted(session.scalars(select(Station.code)))


def old_record(url: str, folder: Path) -> Shop:
    """A shop whose record was begun when codes were compared sign by sign: three people, two taps, two stations."""
    shop = open_shop(url, folder)
    shop.work.engine.dispose()
    downgrade(url, "0012")
    with shop.work.engine.begin() as connection:
        for code, name in (("caf\u00e9", "Composed"), ("cafe\u0301", "In parts"), ("CAF\u00c9", "Capital")):
            connection.exec_driver_sql(f"INSERT INTO person (code, name) VALUES ('{code}', '{name}')")
        connection.exec_driver_sql("INSERT INTO station (code, name) VALUES ('M8  arm', 'Two'), ('m8 arm', 'One')")
        connection.exec_driver_sql(
            "INSERT INTO tap (code, tap_type_id, regrinds) VALUES ('X1', 1, 0), ('\uff381', 1, 0)"
        )
    shop.work.engine.dispose()
    return shop


def test_old_codes_stay_and_are_listed(database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The upgrade changes no code, prints those that look alike, and each is found by what it is."""
    shop = old_record(database_url, tmp_path)
    monkeypatch.setenv("SHOPFLOOR_DATA_FOLDER", str(tmp_path))
    printed = CliRunner().invoke(command, ["--database", database_url])
    assert 0 == printed.exit_code
    for line in (
        "People: 'caf[U+00E9]', 'cafe[U+0301]', 'CAF[U+00C9]'",
        "Stations: 'M8 [U+0020]arm', 'm8 arm'",
        "Taps: 'X1', '[U+FF38]1'",
    ):
        assert line in printed.output
    with shop.work.read() as session:
        for code, name in (("caf\u00e9", "Composed"), ("cafe\u0301", "In parts"), ("CAF\u00c9", "Capital")):
            found = find_in(session, Person, code)
            assert found is not None
            assert name == found.name
        assert find_in(session, Person, "Caf\u00e9") is None
    with pytest.raises(InputError, match="looks like"):
        add(shop.work, "people", {"code": "Caf\u00e9", **THINGS["people"]})
    log_run(shop.work, shop.entry(person="cafe\u0301"))
    shop.work.engine.dispose()


def test_a_supervisor_renames_them(database_url: str, tmp_path: Path) -> None:
    """The old code is on record, the entries stay with their person, and the last of a group is compared as any."""
    shop = old_record(database_url, tmp_path)
    upgrade(database_url)
    run = log_run(shop.work, shop.entry(person="cafe\u0301")).run_id
    for old, new in (("cafe\u0301", "cafe 2"), ("CAF\u00c9", "cafe 3")):
        assert new == rename(shop.work, {"kind": "people", "code": old, "new_code": new}, "bo")
    assert ["stations", "taps"] == [group.kind for group in alike(shop.work)]
    with shop.work.read() as session:
        stored, person = session.get_one(Run, run), find_in(session, Person, "CAFE 2")
        assert person is not None
        assert person.id == stored.person_id
        composed = find_in(session, Person, "CAFE\u0301")
        assert composed is not None
        assert "Composed" == composed.name
        was = session.scalars(select(Earlier.was).where(Earlier.kind == "person").order_by(Earlier.id)).first()
        assert "cafe\u0301" == json.loads(was or "")["code"]
    for new, message in (("AIR", "is taken"), ("--", "is not a code"), ("", "it is missing")):
        with pytest.raises(InputError, match=message):
            rename(shop.work, {"kind": "stations", "code": "m8 arm", "new_code": new}, "bo")
    with pytest.raises(InputError, match="no longer looks like another"):
        rename(shop.work, {"kind": "people", "code": "ada", "new_code": "eva"}, "bo")
    shop.work.engine.dispose()
