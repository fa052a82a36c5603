"""What an import made can be completed, and what is known already is never changed by it."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import select

from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import IsoGroup
from shopfloor.services.catalogue.tap_types import add_tap_type
from shopfloor.services.catalogue.things import add
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.services.station import choices
from shopfloor.store import LifeStretch, Material, TapType
from tests.factories import Shop
from tests.services.conftest import ON_BOTH
from tests.services.looking import tables

LOG = "when,tap,tap type,material,rpm,holes,tap end\n2026-05-04,A1,blue box,a36 plate,250,48,good\n"


@pytest.fixture
def imported(shop: Shop, tmp_path: Path) -> Shop:
    """The small shop with a log whose tap type has no thread and whose material has no group."""
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    import_runs(shop.work, path)
    return shop


@ON_BOTH
def test_a_tap_type_gets_its_thread_and_its_taps_their_speed_bands(imported: Shop) -> None:
    """With the thread the bands are in m/min, in the same transaction."""
    add_tap_type(imported.work, {"code": "Blue Box", "thread": "M8", "unit_cost": "18"})
    with imported.work.read() as session:
        kind = session.scalars(select(TapType).where(TapType.code == "blue box")).one()
        assert ("M8", Decimal(18)) == (kind.thread, kind.unit_cost)
        assert ["4-6.3 m/min"] == list(session.scalars(select(LifeStretch.speed_band)))
    kept = tables(imported)
    rebuild(imported.work)
    assert tables(imported) == kept


def test_a_material_gets_its_name_and_group(imported: Shop) -> None:
    """The import had only its code."""
    add(imported.work, "materials", {"code": "a36 plate", "name": "A36 plate", "iso_group": "P", "hardness_hb": "140"})
    with imported.work.read() as session:
        stuff = session.scalars(select(Material).where(Material.code == "a36 plate")).one()
        assert ("A36 plate", IsoGroup.P, 140) == (stuff.name, stuff.iso_group, stuff.hardness_hb)


def test_what_is_known_stays(imported: Shop) -> None:
    """Another thread or group for something that has one is refused by the field's name, and nothing changes."""
    with pytest.raises(InputError, match="thread: it is 'M8' already"):
        add_tap_type(imported.work, {"code": "M8 SP", "thread": "M10", "coating": "TiN"})
    with imported.work.read() as session:
        kind = session.scalars(select(TapType).where(TapType.code == "M8 SP")).one()
        assert ("M8", None) == (kind.thread, kind.coating)


@ON_BOTH
def test_taps_are_put_elsewhere(shop: Shop) -> None:
    """The bin is what may change; alone it is enough, and an empty one leaves it."""
    for bin_ in ("C3", "D1", ""):
        known = {"code": "M8 SP", "thread": "M8", "bin": bin_, "coating": "" if bin_ else "TiN"}
        add_tap_type(shop.work, known)
    found = choices.taps(shop.work, "arm", "J1", 250, None, 48)
    assert ({"D1"}, {"D1"}) == ({tap.bin for tap in found.used}, {new.bin for new in found.new})
    with pytest.raises(InputError, match="is taken"):
        add_tap_type(shop.work, {"code": "M8 SP", "thread": "M8", "bin": "D1"})


def test_what_is_known_is_named_as_the_form_has_it(shop: Shop) -> None:
    """Blind, not 'is blind'; the material by its name, not by a number."""
    job = {"code": "J-9", "part": "plate", "material": "steel", "thread": "M8", "holes_per_part": "4", "hole": "blind",
           "hole_making": "drilled", "depth_mm": "12.5"}  # fmt: skip
    add(shop.work, "materials", {"code": "brass", "name": "Brass", "iso_group": "N"})
    add(shop.work, "jobs", job)
    with pytest.raises(InputError) as refused:
        add(
            shop.work, "jobs", {**job, "hole": "through", "material": "brass", "depth_mm": "12", "due_on": "2026-12-24"}
        )
    told = {problem.field: str(problem.what) for problem in refused.value.problems}
    assert ("it is 'blind' already", "it is '12.5 mm' already") == (told["hole"], told["depth_mm"])
    assert "it is 'Structural steel' already" == told["material"]


def test_a_complete_thing_is_taken(imported: Shop) -> None:
    """Nothing is lacking: the code belongs to something else."""
    with pytest.raises(InputError, match="is taken"):
        add(imported.work, "materials", {"code": "STEEL", "name": "x", "iso_group": "N", "hardness_hb": "90"})
