"""What holes and taps were like finds its way from the log into the advice."""

from __future__ import annotations

import uuid

from sqlalchemy import select

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.hierarchical.model.conditions import REGROUND, Trait
from shopfloor.core.vocabulary import HoleMaking, Lubricant, MovementKind, TapEnd
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.advice.taps_now import Past
from shopfloor.services.catalogue import things
from shopfloor.services.ledger.movements import move_tap
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Job, LifeStretch, Tap, TapType
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

THROUGH_DRILLED = HoleConditions(is_blind=False, making=HoleMaking.DRILLED)


def past(shop: Shop, code: str, number: int = 0) -> Past:
    """What a life of this tap was spent on."""
    with shop.work.read() as session:
        tap = find_in(session, Tap, code)
        assert tap is not None
        return LifeBook.open(shop.work, session).past(tap.id, number)


@ON_BOTH
def test_a_life_is_split_where_the_lubricant_changes(shop: Shop) -> None:
    """The same job with another lubricant is another stretch; the hole's own traits come from the job."""
    for lubricant, holes in ((Lubricant.MIST, 40), (Lubricant.MIST, 20), (Lubricant.NONE, 30)):
        shop.clock.move(minutes=5)
        log_run(shop.work, shop.entry(holes=holes, lubricant=lubricant))
    (first, made), (second, dry) = past(shop, "T1")
    assert (60, 30) == (made, dry)
    hole = ((Trait.HOLE, "through"), (Trait.MAKING, "drilled"))
    assert [(*hole, (Trait.LUBRICANT, which)) for which in ("mist", "none")] == [first.traits, second.traits]
    assert first.group == second.group


def test_a_reground_tap_begins_a_life_of_its_own_kind(shop: Shop) -> None:
    """Its new life says that it was reground, the old one does not."""
    log_run(shop.work, shop.entry(tap_end=TapEnd.WORN))
    for kind in (MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND):
        shop.clock.move(minutes=5)
        move_tap(shop.work, uuid.uuid4(), "T1", kind, "bo")
    shop.clock.move(minutes=5)
    log_run(shop.work, shop.entry(holes=10))
    assert [(False, 48), (True, 10)] == [
        ((Trait.REGRIND, REGROUND) in condition.traits, holes)
        for number in (0, 1)
        for condition, holes in past(shop, "T1", number)
    ]


def test_completing_a_job_tells_of_the_holes_that_were_made(shop: Shop) -> None:
    """A job that an import made says later that its holes are blind: every tap that made some knows."""
    with shop.work.write() as session:
        job = find_in(session, Job, "J1")
        assert job is not None
        job.is_blind = job.hole_making = None
    log_run(shop.work, shop.entry())
    said = {"code": "J1", "part": "Bracket", "material": "steel", "thread": "M8", "holes_per_part": "4"}
    things.add(shop.work, "jobs", said | {"hole": "blind", "hole_making": "cast"})
    with shop.work.read() as session:
        kept = session.execute(select(LifeStretch.is_blind, LifeStretch.hole_making)).all()
    assert [(True, HoleMaking.CAST)] == [tuple(row) for row in kept]


def test_a_reamed_hole_counts_as_reamed() -> None:
    """However it was opened: the hard skin of a thermal cut is gone."""
    assert HoleMaking.REAMED is HoleConditions.told(False, HoleMaking.LASER, True, None, None).making


def test_advice_without_a_job_is_for_the_holes_mostly_made(sqlite_shop: Shop) -> None:
    """A page that names tap type, material and speed alone speaks of most of these holes, and says so."""
    for holes, lubricant in ((30, Lubricant.MIST), (400, None)):
        sqlite_shop.clock.move(minutes=5)
        log_run(sqlite_shop.work, sqlite_shop.entry(holes=holes, lubricant=lubricant, rpm=300))
    with sqlite_shop.work.read() as session:
        kind, job = find_in(session, TapType, "M8 SP"), find_in(session, Job, "J1")
        assert kind is not None
        assert job is not None
        found = LifeBook.open(sqlite_shop.work, session).advice(
            CuttingConditions(kind.id, job.material_id, "6.3-10 m/min")
        )
    assert THROUGH_DRILLED == found.hole
    assert ("through", "drilled") == found.hole.words
