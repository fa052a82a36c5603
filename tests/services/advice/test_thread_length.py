"""Lives counted in length of thread: what the setting changes, and what it must not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.units import AgeUnit
from shopfloor.core.vocabulary import HoleMaking, LifeMeasure, TapEnd
from shopfloor.services.advice.life_book import Advice, LifeBook
from shopfloor.services.crib.board import board
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.quality.life_curves import LifeCurve, LifeQuestion, life_curve
from shopfloor.services.record.codes import find_in
from shopfloor.services.runs.runs import log_run
from shopfloor.services.shop import count_life_in, life_counted_in
from shopfloor.services.station.page import TapHere, at_station
from shopfloor.store import Job, TapType
from shopfloor.store.queries.histories import UseRow
from shopfloor.store.queries.threaded import in_length, usual_depths
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

BAND = "6.3-10 m/min"


def row(tap: int, start: float, end: float, depth: float | None, **life: float | None) -> UseRow:
    """One stretch of a life that is still good at its end, unless the life says otherwise."""
    known = {"entry": 0.0, "lower": end, "upper": None, "mode": None, "runs": 1, **life}
    return UseRow(tap, 0, 7, 1, BAND, None, None, None, depth, start, end, **known)  # type: ignore[arg-type]


def depths(shop: Shop, **by_job: float | None) -> None:
    """Give jobs their depth of thread in mm."""
    with shop.work.write() as session:
        for code, depth in by_job.items():
            job = find_in(session, Job, code)
            assert job is not None
            job.depth_mm, job.material_id = depth, 1


def broken(shop: Shop, job: str, *ages: int) -> None:
    """Log one fresh tap for each age, broken at that hole."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        run = shop.entry(tap=tap, holes=age, tap_end=TapEnd.BROKEN, broke_at_hole=age, job=job, rpm=300)
        log_run(shop.work, run)
        shop.clock.move(minutes=30)


def advice(shop: Shop, depth_mm: float | None) -> Advice:
    """Advice for M8 taps in steel holes of that depth."""
    hole = HoleConditions(is_blind=False, making=HoleMaking.DRILLED, depth_mm=depth_mm)
    with shop.work.read() as session:
        kind = find_in(session, TapType, "M8 SP")
        assert kind is not None
        return LifeBook.open(shop.work, session).advice(CuttingConditions(kind.id, 1, BAND), hole)


def test_the_usual_depth_is_that_of_the_middle_hole() -> None:
    """100 holes of 10 mm and 80 of 20 mm: 10 mm; holes of unknown depth have no say."""
    rows = [row(1, 0, 100, 10.0), row(2, 0, 80, 20.0), row(3, 0, 900, None)]
    assert {7: 10.0} == usual_depths(rows)


def test_every_age_is_counted_by_the_depth_of_its_holes() -> None:
    """100 usual holes, 50 twice as deep, then 40 of unknown depth: a failure in the last 20 lies in (220, 240]."""
    life = [row(1, 0, 100, 10.0), row(1, 100, 150, 20.0), row(1, 150, 190, None)]
    told = [one._replace(lower=170, upper=190, mode="break") for one in life]
    found = in_length(told, {7: 10.0})
    assert [(0, 100), (100, 200), (200, 240)] == [(one.start, one.end) for one in found]
    assert (220, 240) == (found[0].lower, found[0].upper)


def test_holes_before_the_first_that_is_known_count_as_usual() -> None:
    """A tap that came with 30 holes on it."""
    (found,) = in_length([row(1, 30, 90, 20.0, entry=30.0)], {7: 10.0})
    assert (30, 30, 150, 150) == (found.entry, found.start, found.end, found.lower)


def test_equal_depths_leave_every_age_as_it_is() -> None:
    """Where all holes are of one depth both measures are the same."""
    rows = [row(1, 30, 90, 12.0, entry=30.0), row(1, 90, 140, 12.0, lower=100.0, upper=140.0)]
    assert [one[9:] for one in rows] == [one[9:] for one in in_length(rows, {7: 12.0})]


@ON_BOTH
def test_the_shop_chooses_and_changes_its_mind(shop: Shop) -> None:
    """Holes unless it says otherwise; the choice is kept in the record."""
    assert LifeMeasure.HOLES is life_counted_in(shop.work)
    for measure in (LifeMeasure.THREAD, LifeMeasure.HOLES, LifeMeasure.THREAD):
        count_life_in(shop.work, measure)
        assert measure is life_counted_in(shop.work)


def test_deep_holes_are_advised_fewer_of(sqlite_shop: Shop) -> None:
    """Taps that last twice as many holes at half the depth: in length of thread one life, half as many deep holes."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    broken(sqlite_shop, "J2", *range(180, 221, 4))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    shallow, deep = advice(sqlite_shop, 10.0), advice(sqlite_shop, 20.0)
    assert shallow.change_at is not None
    assert deep.change_at is not None
    assert 2 * deep.change_at == pytest.approx(shallow.change_at, abs=3)
    assert shallow.thread is not None
    assert 0.01 * shallow.change_at == pytest.approx(shallow.thread.length_m(shallow.change_at))
    risks = [found.break_risk(holes, batch) for found, holes, batch in ((shallow, 200, 40), (deep, 100, 20))]
    assert risks[0] is not None
    assert risks[1] is not None
    assert risks[0].value == pytest.approx(risks[1].value)


def here(shop: Shop) -> TapHere:
    """The tap in the station after 50 shallow and 50 deep holes, before a batch of deep ones."""
    fit_tap(shop.work, "T1", "arm", "ada")
    for job in ("J1", "J2"):
        shop.clock.move(minutes=30)
        log_run(shop.work, shop.entry(holes=50, job=job, rpm=300))
    page = at_station(shop.work, "arm", "ada", "J2")
    assert page.tap is not None
    return page.tap


def test_the_station_tells_the_length_of_thread(sqlite_shop: Shop) -> None:
    """50 holes of 10 mm and 50 of 20 mm are 1.5 m; what is left to the change is told in deep holes."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    tap = here(sqlite_shop)
    length = tap.outlook.length
    assert length is not None
    assert length.made_m == pytest.approx(1.5)
    assert not length.is_usual
    assert tap.outlook.decision.change_at is not None
    assert length.change_at_m == pytest.approx(1.5 + 0.02 * (tap.outlook.decision.change_at - 100))


def test_a_job_without_depth_counts_as_usual_and_says_so(sqlite_shop: Shop) -> None:
    """Nothing is left out, nothing is made up in silence."""
    depths(sqlite_shop, J1=10.0, J2=None)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    length = here(sqlite_shop).outlook.length
    assert length is not None
    assert length.made_m == pytest.approx(1.0)
    assert (10.0, True) == (length.depth_mm, length.is_usual)


def test_counting_holes_tells_no_length(sqlite_shop: Shop) -> None:
    """The setting of old shows nothing new."""
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    assert here(sqlite_shop).outlook.length is None


def test_the_board_tells_the_length_too(sqlite_shop: Shop) -> None:
    """At the suggested change, where the shop counts so."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    here(sqlite_shop)
    assert [None] == [tap.outlook.length for tap in board(sqlite_shop.work).taps]
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    (tap,) = board(sqlite_shop.work).taps
    assert tap.outlook.length is not None
    assert tap.outlook.decision.change_at is not None
    assert tap.outlook.length.change_at_m == pytest.approx(1.5 + 0.02 * (tap.outlook.decision.change_at - 100))


def curve_of(shop: Shop) -> LifeCurve:
    """The curve of all M8 taps, which there must be."""
    found = life_curve(shop.work, LifeQuestion("M8 SP"))
    assert found.curve is not None
    return found.curve


def test_curves_count_length_of_thread(sqlite_shop: Shop) -> None:
    """400 holes of 10 mm or 200 of 20 mm: every tap lasts 4 m; a tap of 50 and 50 is still good at 1.5 m."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    broken(sqlite_shop, "J2", *range(180, 221, 4))
    here(sqlite_shop)
    in_holes = curve_of(sqlite_shop)
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    found = curve_of(sqlite_shop)
    assert (AgeUnit.HOLES, AgeUnit.METRES) == (in_holes.unit, found.unit)
    ends = found.lives.lower[found.lives.is_failure]
    assert sorted([*(0.01 * n for n in range(360, 441, 8)), *(0.02 * n for n in range(180, 221, 4))]) == pytest.approx(
        sorted(ends)
    )
    assert [1.5] == pytest.approx(found.lives.lower[~found.lives.is_failure])
    assert found.fit.life(0.5) == pytest.approx(4.0, abs=0.1)
    assert in_holes.evidence.failures == found.evidence.failures
    # All of one length: the spread of the holes, 200 or 400, is gone.
    assert found.fit.shape_interval[0] > in_holes.fit.shape_interval[1]
    assert found.rows[0].age < found.rows[-1].age <= 1.3 * 4.41


def test_curves_of_an_inch_shop_are_in_feet(sqlite_shop: Shop) -> None:
    """One metre is 3.2808 feet: nothing else changes."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    metres = curve_of(sqlite_shop)
    work = replace(sqlite_shop.work, settings=replace(sqlite_shop.work.settings, units="inch"))
    feet = curve_of(replace(sqlite_shop, work=work))
    assert AgeUnit.FEET is feet.unit
    for share in (0.1, 0.5):
        assert [3.28084 * age for age in metres.fit.life_interval(share)] == pytest.approx(
            feet.fit.life_interval(share), rel=1e-4
        )
    assert metres.fit.shape_interval == pytest.approx(feet.fit.shape_interval, rel=1e-4)


def test_a_type_without_a_depth_stays_in_holes(sqlite_shop: Shop) -> None:
    """No job tells how deep such taps cut."""
    depths(sqlite_shop, J1=None, J2=None)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    assert AgeUnit.HOLES is curve_of(sqlite_shop).unit


def test_the_suggested_change_stands_on_the_curve_in_its_unit(sqlite_shop: Shop) -> None:
    """Holes of usual depth, 10 mm."""
    depths(sqlite_shop, J1=10.0, J2=20.0)
    broken(sqlite_shop, "J1", *range(360, 441, 8))
    count_life_in(sqlite_shop.work, LifeMeasure.THREAD)
    found = life_curve(sqlite_shop.work, LifeQuestion("M8 SP"))
    assert found.advice is not None
    assert found.advice.change_at is not None
    assert found.change_at == pytest.approx(0.01 * found.advice.change_at)
