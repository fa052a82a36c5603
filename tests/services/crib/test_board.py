"""The crib's board: which taps it lists, in which order, with which verdict, and how often it asks the database."""

from __future__ import annotations

import uuid

import pytest

from shopfloor.core.decision.when_to_change import Action
from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import MovementKind, TapEnd
from shopfloor.services.crib.board import NO_RUN, UNKNOWN_HOLES, Board, TapInUse, board
from shopfloor.services.ledger.movements import move_tap
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.runs.batch_size import Why
from shopfloor.services.runs.runs import log_run
from shopfloor.services.station.page import at_station
from tests.factories import Shop
from tests.services.conftest import ON_BOTH
from tests.statements import statements_to


def log(shop: Shop, tap: str, holes: int, **changes: object) -> None:
    """Log a run an hour later, at a speed of which lives are known."""
    shop.clock.move(hours=1)
    log_run(shop.work, shop.entry(tap=tap, holes=holes, **{"rpm": 300, **changes}))


def worn_lives(shop: Shop, *ages: int) -> None:
    """Log one M8 tap for each age, worn at that hole or shortly before."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        log(shop, tap, age - 10)
        log(shop, tap, 10, tap_end=TapEnd.WORN)


def broken_lives(shop: Shop, *ages: int, **changes: object) -> None:
    """Log one M8 tap for each age, broken at that hole."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        log(shop, tap, age, tap_end=TapEnd.BROKEN, broke_at_hole=age, **changes)


def of(found: Board, code: str) -> TapInUse:
    """One tap of the board."""
    return next(tap for tap in found.taps if tap.code == code)


def test_an_empty_record_says_so(sqlite_shop: Shop) -> None:
    """Taps are on record but none is in use: that is no empty log."""
    found = board(sqlite_shop.work)
    assert ((), True) == (found.taps, found.has_log)
    assert 0 == sum(found.counts.values())


def test_the_board_lists_living_taps_in_use_only(shop: Shop) -> None:
    """A tap brought back, a broken one and one never fitted are not in service."""
    log(shop, "T1", 40)
    log(shop, "T2", 40, tap_end=TapEnd.BROKEN)
    log(shop, "T3", 40)
    shop.clock.move(hours=1)
    move_tap(shop.work, uuid.uuid4(), "T3", MovementKind.RETURNED, "bo")
    assert ["T1"] == [tap.code for tap in board(shop.work).taps]


def test_a_tap_of_a_log_without_stations_is_listed_too(sqlite_shop: Shop) -> None:
    """A log that names no station still tells which taps are in use."""
    log(sqlite_shop, "T1", 40, station=None)
    assert [("T1", None, 40)] == [(tap.code, tap.station, tap.holes) for tap in board(sqlite_shop.work).taps]


def test_a_tap_is_due_once_it_is_past_the_suggested_change(shop: Shop) -> None:
    """Change now, during the next batch, or good for now: by the holes left and the size of the last runs."""
    broken_lives(shop, 380, 400, 410, 430, 450)
    change_at = _change_at(shop)
    log(shop, "T1", change_at + 5)
    log(shop, "T2", change_at - 30)
    log(shop, "T3", 40)
    found = board(shop.work)
    assert [Action.CHANGE_NOW, Action.AFTER, Action.CARRY_ON] == [
        of(found, code).outlook.decision.action for code in ("T1", "T2", "T3")
    ]
    assert [40, 40, 40] == [tap.outlook.decision.batch for tap in found.taps]
    assert (of(found, "T1").holes_left or 0) < 0
    assert 1 == found.counts[Action.CHANGE_NOW]


def _change_at(shop: Shop) -> int:
    log(shop, "T3", 1)
    change_at = of(board(shop.work), "T3").outlook.decision.change_at
    assert change_at is not None
    return change_at


def test_where_nothing_is_gained_the_tap_runs_on(sqlite_shop: Shop) -> None:
    """Breaks come no more often on old taps than on fresh ones: no age to change at, and that is no 'good'."""
    broken_lives(sqlite_shop, 5, 20, 60, 150, 400, 900, 2, 30, 110, 250)
    log(sqlite_shop, "T1", 300)
    tap = of(board(sqlite_shop.work), "T1")
    assert (Action.RUN_ON, None, None) == (tap.outlook.decision.action, tap.outlook.decision.change_at, tap.holes_left)
    assert tap.outlook.reason.startswith("Nothing to gain")


@ON_BOTH
def test_the_largest_chance_of_a_break_stands_first(shop: Shop) -> None:
    """Where breaks come more often on old taps, the oldest tap is on top; by holes left it is the same one."""
    broken_lives(shop, 380, 400, 410, 430, 450)
    for code, holes in (("T1", 50), ("T2", 350), ("T3", 200)):
        log(shop, code, holes - 20)
        log(shop, code, 20)
    for order in (None, "risk", "change"):
        assert ["T2", "T3", "T1"] == [tap.code for tap in board(shop.work, order=order).taps]


def test_each_chance_carries_its_interval_and_evidence(sqlite_shop: Shop) -> None:
    """Five broken taps at this speed: the chance lies in its interval and says what it rests on."""
    broken_lives(sqlite_shop, 150, 300, 400, 430, 650)
    for holes in (60, 20):
        log(sqlite_shop, "T1", holes)
    look = of(board(sqlite_shop.work), "T1").outlook
    assert look.risk is not None
    assert look.risk.value is not None
    assert look.risk.lower < look.risk.value < look.risk.upper
    assert (6, 5) == (look.evidence.taps, look.evidence.failures)
    assert 0 < look.shrinkage < 0.5
    assert look.saving is not None


def test_wear_alone_leaves_the_chance_of_a_break_wide_open(sqlite_shop: Shop) -> None:
    """No break yet: the chance is small, and its interval spans a factor of more than ten."""
    worn_lives(sqlite_shop, 380, 400, 410, 430)
    log(sqlite_shop, "T1", 40)
    risk = of(board(sqlite_shop.work), "T1").outlook.risk
    assert risk is not None
    assert risk.value is not None
    assert 10 * risk.lower < risk.upper < 0.2


@ON_BOTH
def test_the_next_batch_is_the_mean_of_the_last_five_runs(shop: Shop) -> None:
    """Six runs of a log that names no station: the first no longer counts; the mean is rounded up."""
    for holes in (500, 10, 20, 30, 40, 41):
        log(shop, "T1", holes, station=None)
    batch = of(board(shop.work), "T1").next_batch
    assert batch is not None
    assert (29, 5, True, "J1", "Bracket") == (batch.holes, batch.runs, batch.is_own, batch.job, batch.part)


def test_the_next_batch_is_the_one_that_the_station_offers(shop: Shop) -> None:
    """The last one there, whichever tap made it: the crib foretells no other batch than the station page."""
    for tap, holes in (("T1", 30), ("T1", 20), ("T2", 44)):
        log(shop, tap, holes)
    batch = of(board(shop.work), "T1").next_batch
    page = at_station(shop.work, "arm", "ada", "J1")
    assert batch is not None
    assert page.portion is not None
    assert (44, Why.LAST_TIME) == (batch.holes, batch.why) == (page.portion.holes, page.portion.why)


def test_a_fresh_tap_takes_its_batch_from_the_station(shop: Shop) -> None:
    """Without a run of its own the last runs of such taps at the station foretell the next batch."""
    log(shop, "T1", 60)
    shop.clock.move(hours=1)
    new = fit_new_tap(shop.work, "M8 SP", "arm", "ada")
    batch = of(board(shop.work), new).next_batch
    assert batch is not None
    assert (60, False) == (batch.holes, batch.is_own)


def test_without_any_run_the_board_says_that_it_does_not_know(sqlite_shop: Shop) -> None:
    """A tap just fitted, with no run at its station: not known, and why."""
    fit_tap(sqlite_shop.work, "T1", "arm", "ada")
    look = of(board(sqlite_shop.work), "T1").outlook
    assert (Action.NOT_KNOWN, NO_RUN, None) == (look.decision.action, look.reason, look.risk)


def test_unknown_holes_are_said_to_be_unknown(sqlite_shop: Shop) -> None:
    """A tap that came used, nobody knows how much, has no age: not known, whatever the lives of others tell."""
    broken_lives(sqlite_shop, 380, 400, 410, 430, 450)
    receive_tap(sqlite_shop.work, "OLD", "M8 SP", "bo", holes_before=None)
    log(sqlite_shop, "OLD", 30)
    tap = of(board(sqlite_shop.work), "OLD")
    assert (None, 30, None) == (tap.holes, tap.logged_holes, tap.holes_left)
    assert (Action.NOT_KNOWN, UNKNOWN_HOLES) == (tap.outlook.decision.action, tap.outlook.reason)


def test_a_log_without_a_life_is_not_known(sqlite_shop: Shop) -> None:
    """The only used tap came used: for a fresh one there is no life to learn from."""
    receive_tap(sqlite_shop.work, "OLD", "1/2-13 SP", "bo", holes_before=None)
    log(sqlite_shop, "OLD", 30, job="J3")
    fit_tap(sqlite_shop.work, "B1", "arm", "ada")
    look = of(board(sqlite_shop.work), "B1").outlook
    assert (Action.NOT_KNOWN, None, 0) == (look.decision.action, look.risk, look.evidence.taps)
    assert "Too few failures in the log (0) to say whether changing in time saves; 3 would be enough" == look.reason


def test_a_type_without_a_life_leans_on_the_others(sqlite_shop: Shop) -> None:
    """No tap of the type was used from new: the others answer, and the board says so."""
    broken_lives(sqlite_shop, 380, 400, 410, 430, 450)
    receive_tap(sqlite_shop.work, "OLD", "1/2-13 SP", "bo", holes_before=None)
    log(sqlite_shop, "OLD", 30, job="J3")
    fit_tap(sqlite_shop.work, "B1", "arm", "ada")
    look = of(board(sqlite_shop.work), "B1").outlook
    assert (0, 1.0) == (look.evidence.taps, look.shrinkage)
    assert look.risk is not None
    assert look.risk.lower < look.risk.upper / 5


def test_a_past_in_harder_material_counts_for_more(sqlite_shop: Shop) -> None:
    """Two taps of 100 holes: the one that made them in stainless, where taps last a third as long, is worse off."""
    broken_lives(sqlite_shop, 380, 400, 410, 430, 450)
    for age in (120, 130, 140, 150):
        broken_lives(sqlite_shop, age, job="J2")
    log(sqlite_shop, "T1", 100)
    log(sqlite_shop, "T2", 100, job="J2")
    log(sqlite_shop, "T2", 5)
    plain, worn = (of(board(sqlite_shop.work), code) for code in ("T1", "T2"))
    assert plain.outlook.risk is not None
    assert worn.outlook.risk is not None
    assert plain.outlook.risk.value is not None
    assert worn.outlook.risk.value is not None
    assert 2 * plain.outlook.risk.value < worn.outlook.risk.value
    assert (plain.holes_left or 0) > (worn.holes_left or 0)


def test_a_regrind_starts_the_count_anew(shop: Shop) -> None:
    """Back from regrind and used for 12 holes: 12 holes and one regrind."""
    log(shop, "T1", 200, tap_end=TapEnd.WORN)
    for kind in (MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND):
        shop.clock.move(hours=1)
        move_tap(shop.work, uuid.uuid4(), "T1", kind, "bo")
    log(shop, "T1", 12)
    tap = of(board(shop.work), "T1")
    assert (12, 1) == (tap.holes, tap.regrinds)


def test_the_board_can_show_one_station(shop: Shop) -> None:
    """A filter keeps the taps of that station only."""
    log(shop, "T1", 40)
    log(shop, "T2", 40, station="air", rpm=350)
    assert ["T2"] == [tap.code for tap in board(shop.work, "air").taps]
    assert ("air", "arm") == board(shop.work, "air").stations


@pytest.mark.parametrize(("station", "order", "field"), [("nowhere", None, "station"), (None, "colour", "sort")])
def test_an_unknown_filter_is_refused(sqlite_shop: Shop, station: str | None, order: str | None, field: str) -> None:
    """The message names what is not known."""
    with pytest.raises(InputError) as refused:
        board(sqlite_shop.work, station, order)
    assert [field] == [problem.field for problem in refused.value.problems]


def test_the_board_asks_as_often_for_many_taps_as_for_few(sqlite_shop: Shop) -> None:
    """Ten more taps of two types, fitted and used, cost none; new jobs one, of runs elsewhere."""
    broken_lives(sqlite_shop, 380, 400, 410)
    log(sqlite_shop, "T1", 40)
    fit_tap(sqlite_shop.work, "T2", "arm", "ada")
    with statements_to(sqlite_shop.work.engine) as few:
        board(sqlite_shop.work)
    for n in range(10):
        kind, job = ("M8 SP", "J2") if n % 2 else ("1/2-13 SP", "J3")
        log(sqlite_shop, fit_new_tap(sqlite_shop.work, kind, "arm", "ada"), 20 + n, job=job)
    with statements_to(sqlite_shop.work.engine) as many:
        assert 12 == len(board(sqlite_shop.work).taps)
    assert len(few) + 1 == len(many) <= 20
