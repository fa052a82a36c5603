"""The set-up card of a job at a station, from what is on record."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import update

from shopfloor.core.errors import NotFound
from shopfloor.core.set_up.question import SetUpCard
from shopfloor.core.vocabulary import Chamfer, DepthControl, HoleMaking, IsoGroup, TapEnd, TapStyle
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.set_up_card import card_at
from shopfloor.store import Job, Material, Station, TapType
from tests.factories import Shop
from tests.services.conftest import ON_BOTH


def change(shop: Shop, table: type[Any], code: str, **values: Any) -> None:
    """Put other values on record."""
    with shop.work.write() as session:
        session.execute(update(table).where(table.code == code).values(**values))


def card(shop: Shop, station: str = "arm", job: str = "J1") -> SetUpCard:
    """A card that can be made."""
    found = card_at(shop.work, station, job)
    assert () == found.lacking
    assert found.card is not None
    return found.card


def test_a_job_at_a_station(shop: Shop) -> None:
    """Thread, material, hole and speed are those on record; no tap is in the station, so the card chooses one."""
    found = card_at(shop.work, "arm", "J1")
    assert (None, True) == (found.tap, found.is_speed_known)
    made = card(shop)
    assert ("M8", "structural steel" in made.question.material.also, 250) == (
        made.question.thread.text, True, made.question.rpm,
    )  # fmt: skip
    assert (16, False, HoleMaking.DRILLED) == (
        made.question.hole.depth_mm, made.question.hole.is_blind, made.question.hole.making,
    )  # fmt: skip
    assert (TapStyle.SPIRAL_POINT, 200) == (made.style, made.question.holes)
    assert None is made.margin


def test_the_tap_in_the_station_is_the_cards(shop: Shop) -> None:
    """With its form and what it is made of; bright is no coating."""
    change(shop, TapType, "M8 SP", style=TapStyle.FORMING, chamfer=Chamfer.BOTTOMING, coating="bright")
    fit_tap(shop.work, "T1", "arm", "ada")
    found = card_at(shop.work, "arm", "J1")
    assert ("T1", 0) == (found.tap and found.tap.code, found.tap and found.tap.holes)
    made = card(shop)
    assert (TapStyle.FORMING, Chamfer.BOTTOMING, False) == (made.style, made.chamfer, made.question.tap.is_coated)


def test_what_the_station_can_drive_is_compared(shop: Shop) -> None:
    """Torque, reducer and the largest thread of the material's group, in the standard's own millimetres."""
    change(shop, Station, "arm", torque_nm=55, reducer_ratio=2, largest_p="5/8-11", largest_n="1-8")
    made = card(shop)
    assert 110 == made.question.station.tap_torque_nm
    assert {IsoGroup.P: 15.875, IsoGroup.N: 25.4} == pytest.approx(dict(made.question.station.largest_mm))
    assert made.margin == pytest.approx(110 / made.torque.dull_nm)


def test_the_hole_as_it_is_made(shop: Shop) -> None:
    """Size, depth, chamfer and reamer of the job's hole; one that is reamed by its making counts as reamed."""
    hole = {"drilled_mm": 6.9, "is_blind": True, "drill_depth_mm": 20, "is_chamfered": False}
    change(shop, Job, "J1", hole_making=HoleMaking.REAMED, **hole)
    made = card(shop)
    assert (6.9, True) == (made.hole_mm, made.question.hole.was_reamed)
    assert "Hole too shallow" == made.warnings[0].what


@ON_BOTH
def test_how_it_was_done_last_time_counts(shop: Shop) -> None:
    """Speed and depth control of the last batch of this job here."""
    change(shop, Job, "J1", holes_per_part=10)
    log_run(shop.work, shop.entry(rpm=300, depth_control=DepthControl.BY_EYE))
    made = card(shop)
    assert 300 == made.question.rpm
    assert "Depth by eye on a long run" in [warning.what for warning in made.warnings]


@ON_BOTH
def test_the_log_speaks_as_soon_as_it_has_enough(shop: Shop) -> None:
    """A thousand holes without trouble prove their band; before, the published range stands."""
    log_run(shop.work, shop.entry(holes=400))
    assert not card(shop).advised.is_proven
    shop.clock.move(hours=1)
    log_run(shop.work, shop.entry(holes=700, tap="T2", tap_end=TapEnd.WORN))
    advised = card(shop).advised
    assert (True, 4, 6.3) == (advised.is_proven, advised.low, advised.high)
    assert "1 failure in 1,100 holes of this shop" in advised.why
    assert not card(shop, job="J2").advised.is_proven, "another material proves nothing here"


def test_a_speed_that_nobody_planned_comes_from_the_advised_range(shop: Shop) -> None:
    """Its middle, within what the station can run."""
    change(shop, Job, "J1", planned_rpm=None)
    found = card_at(shop.work, "arm", "J1")
    assert not found.is_speed_known
    assert 500 == card(shop).question.rpm
    change(shop, Station, "arm", rpm_max=2000)
    low, high = card(shop).advised.rpm(8)
    assert low < card(shop).question.rpm < high


@pytest.mark.parametrize(
    ("table", "code", "values", "field"),
    [
        (Job, "J1", {"depth_mm": None}, "depth"),
        (Job, "J1", {"is_blind": None}, "hole"),
        (Job, "J1", {"thread": None}, "thread"),
        (Job, "J1", {"thread": "M8x1.1 special"}, "thread"),
        (Job, "J1", {"drilled_mm": 8.5}, "drilled"),
        (Material, "steel", {"iso_group": None, "name": "secret"}, "material"),
    ],
)
def test_what_is_lacking_is_named(shop: Shop, table: type[Any], code: str, values: dict[str, Any], field: str) -> None:
    """No card and no guess, but the name of what is missing and what to do."""
    change(shop, table, code, **values)
    found = card_at(shop.work, "arm", "J1")
    assert (None, [field]) == (found.card, [problem.field for problem in found.lacking])
    assert found.lacking[0].remedy


def test_a_thread_within_other_words_is_understood(shop: Shop) -> None:
    """As an import may have it."""
    change(shop, Job, "J1", thread="3/8-16 2B thru")
    assert "3/8-16 UNC" == card(shop).question.thread.text


def test_a_materials_group_goes_before_a_word_in_its_name(shop: Shop) -> None:
    """'Steel-grey brass' is brass, since the shop says that it is in group N."""
    change(shop, Material, "steel", name="Steel-grey alloy", iso_group=IsoGroup.N)
    assert IsoGroup.N is card(shop).question.material.group


@pytest.mark.parametrize(("station", "job"), [("nowhere", "J1"), ("arm", "J99")])
def test_unknown_places_and_jobs(shop: Shop, station: str, job: str) -> None:
    """Not found, neither is guessed."""
    with pytest.raises(NotFound):
        card_at(shop.work, station, job)


def test_a_closed_job_has_no_card(shop: Shop) -> None:
    """It is not found, as everywhere at a station."""
    change(shop, Job, "J1", is_open=False)
    with pytest.raises(NotFound):
        card_at(shop.work, "arm", "J1")
