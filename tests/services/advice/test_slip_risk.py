"""Cutting slips in the risk of a tap: on the station page, the board and in what a tablet keeps."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import event

from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS
from shopfloor.core.survival.estimates import Estimate
from shopfloor.core.vocabulary import DepthControl, LifeMeasure, StationKind, TapEnd
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.advice.life_book import LifeBook
from shopfloor.services.crib.board import board
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.runs.runs import log_run
from shopfloor.services.shop import count_life_in
from shopfloor.services.station.offline_advice import kept_advice
from shopfloor.services.station.page import TapHere, at_station
from shopfloor.store import Station
from shopfloor.web.i18n.odds import slips_raise
from tests.factories import Shop, reopen_shop
from tests.kept import copied


def log(shop: Shop, tap: str, holes: int, slips: int | None, **changes: object) -> None:
    """Log a run, half an hour after the last."""
    shop.clock.move(minutes=30)
    log_run(shop.work, shop.entry(tap=tap, holes=holes, cutting_slips=slips, **changes))


@pytest.fixture(scope="module")
def telling_log(furnished_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    """The file of the telling shop, to be copied and never opened, and how late it is there."""
    folder = tmp_path_factory.mktemp("telling")
    shop = reopen_shop(copied(furnished_sqlite, folder / "shop.sqlite"), folder)
    for n in range(16):
        tap = receive_tap(shop.work, None, "M8 SP", "bo")
        slips = n % 2
        for _ in range(1 if slips else 3):
            log(shop, tap, 50, 6 * slips)
        log(shop, tap, 50, None, tap_end=TapEnd.BROKEN, broke_at_hole=10 + n)
    fit_tap(shop.work, "T1", "arm", "ada")
    shop.work.close()
    return folder / "shop.sqlite", shop.clock()


@pytest.fixture
def telling_shop(telling_log: tuple[Path, datetime], tmp_path: Path) -> Iterator[Shop]:
    """A shop in which taps that slip break soon, and those that do not last; T1 is in the arm."""
    path, now = telling_log
    shop = reopen_shop(copied(path, tmp_path / "shop.sqlite"), tmp_path, now)
    yield shop
    shop.work.close()


def here(shop: Shop) -> TapHere:
    """The tap in the arm before a batch of 50."""
    page = at_station(shop.work, "arm", "ada", "J1", rest=50, has_rest=True)
    assert page.tap is not None
    return page.tap


def chance(risk: Estimate | None) -> float:
    """The chance of a break."""
    assert risk is not None
    assert risk.value is not None
    return risk.value


def test_a_tap_that_slips_is_at_greater_risk(telling_shop: Shop) -> None:
    """Told with what it rests on; the age at which such taps are changed stays."""
    log(telling_shop, "T1", 50, 6)
    slipping = here(telling_shop)
    slips = slipping.outlook.slips
    assert slips.raises
    assert (50, 6) == (slips.holes, slips.slips)
    assert slips.usual < 4
    told = slips_raise(slips)
    assert told.startswith("Its cutting slips raise this about ")
    assert " 6 slips in its last 50 holes, usual is " in told


def test_the_same_tap_without_slips_is_at_less_risk(telling_shop: Shop) -> None:
    """Of the same tap in the same holes; nothing is said of it then."""
    log(telling_shop, "T1", 50, 0)
    quiet = here(telling_shop).outlook
    log(telling_shop, "T2", 50, 6)
    fit_tap(telling_shop.work, "T2", "arm", "ada")
    slipping = here(telling_shop).outlook
    assert quiet.slips.factor < 1 < slipping.slips.factor
    assert 1.5 * chance(quiet.risk) < chance(slipping.risk)
    assert "" == slips_raise(quiet.slips)


def test_slips_at_the_bottom_never_count(telling_shop: Shop) -> None:
    """However many were entered, where the clutch ends each hole at its bottom."""
    log(telling_shop, "T1", 50, 50, depth_control=DepthControl.CLUTCH)
    assert 1.0 == here(telling_shop).outlook.slips.factor


def test_a_hand_wrench_cannot_slip(telling_shop: Shop) -> None:
    """It has no clutch: no slips there are no good sign."""
    with telling_shop.work.write() as session:
        session.add(Station(code="bench", name="Bench", kind=StationKind.HAND_WRENCH))
    log(telling_shop, "T1", 50, 0, station="bench")
    fit_tap(telling_shop.work, "T1", "arm", "ada")
    assert 1.0 == here(telling_shop).outlook.slips.factor


def test_a_fresh_tap_has_no_slips(telling_shop: Shop) -> None:
    """Those of other taps are not its own."""
    assert NO_SLIPS == here(telling_shop).outlook.slips


def test_the_board_and_the_kept_table_say_the_same(telling_shop: Shop) -> None:
    """As the station page."""
    log(telling_shop, "T1", 50, 6)
    page = here(telling_shop)
    kept = next(one for one in kept_advice(telling_shop.work, "arm") if one.job == "J1")
    on_board = next(tap for tap in board(telling_shop.work).taps if tap.code == "T1")
    assert page.outlook.slips == on_board.outlook.slips
    assert kept.slips is not None
    assert pytest.approx(page.outlook.slips.factor, rel=0.05) == kept.slips.factor
    assert (kept.slips.holes, kept.slips.slips) == (50, 6)
    cell = kept.risks[0][kept.batches.index(50)]
    assert cell is not None
    assert pytest.approx(chance(page.outlook.risk), rel=1e-3) == cell[0]
    assert page.outlook.slips.raises
    assert page.outlook.decision == on_board.outlook.decision
    assert kept.timing is not None
    assert page.outlook.decision.change_at == kept.timing.change_at


def test_where_slips_hardly_matter_nothing_is_kept_of_them(telling_shop: Shop) -> None:
    """The table says None."""
    log(telling_shop, "T1", 50, 0)
    assert all(one.slips is None for one in kept_advice(telling_shop.work, "arm"))
    assert not here(telling_shop).outlook.slips.raises


def test_a_log_without_slips_is_told_as_before(sqlite_shop: Shop) -> None:
    """Nothing to learn from: every factor is 1."""
    for age in range(360, 441, 8):
        log(sqlite_shop, receive_tap(sqlite_shop.work, None, "M8 SP", "bo"), age, None, tap_end=TapEnd.BROKEN)
    fit_tap(sqlite_shop.work, "T1", "arm", "ada")
    log(sqlite_shop, "T1", 50, 40)
    assert NO_SLIPS == here(sqlite_shop).outlook.slips


def test_lives_in_length_of_thread_tell_the_same(telling_shop: Shop) -> None:
    """Depths do not differ here."""
    log(telling_shop, "T1", 50, 6)
    in_holes = here(telling_shop).outlook.slips
    count_life_in(telling_shop.work, LifeMeasure.THREAD)
    assert pytest.approx(in_holes.factor, rel=1e-3) == here(telling_shop).outlook.slips.factor


def test_a_few_new_runs_do_not_change_how_slips_count(telling_shop: Shop) -> None:
    """What was learned stays; the tap's own slips are read to the last run."""
    log(telling_shop, "T1", 50, 3)
    before = here(telling_shop).outlook.slips
    log(telling_shop, "T1", 10, 4)
    after = here(telling_shop).outlook.slips
    assert (60, 7) == (after.holes, after.slips)
    assert before.factor < after.factor


def test_one_statement_reads_the_slips_of_all(telling_shop: Shop) -> None:
    """However many taps are asked for; what the log teaches about slips is kept."""
    for tap in ("T1", "T2", "T3"):
        log(telling_shop, tap, 50, 2)
    make_generation(telling_shop.work)
    with telling_shop.work.read() as session, _asked(telling_shop, "run.cutting_slips") as sent:
        book = LifeBook.open(telling_shop.work, session)
        book.read([1, 2, 3])
        found = [book.slips(tap, 0) for tap in (1, 2, 3, 1)]
    assert [50, 50, 50, 50] == [one.holes for one in found]
    assert 1 == len(sent)


@contextmanager
def _asked(shop: Shop, words: str) -> Iterator[list[str]]:
    sent: list[str] = []

    def note(_: object, __: object, statement: str, *rest: object) -> None:
        if words in statement:
            sent.append(statement)

    event.listen(shop.work.engine, "before_cursor_execute", note)
    yield sent
    event.remove(shop.work.engine, "before_cursor_execute", note)
