"""Pages answer from the newest generation as they would from the log it was worked out from."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import NoReturn

import pytest
from sqlalchemy import delete, update

from shopfloor.core.hierarchical.model.conditions import Trait
from shopfloor.core.vocabulary import IsoGroup, LifeMeasure, TapEnd
from shopfloor.services.advice import estimates
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.advice.lag import is_due
from shopfloor.services.advice.life_book import NOT_YET, LifeBook
from shopfloor.services.crib.board import board
from shopfloor.services.quality.life_curves import LifeQuestion, life_curve
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.shop import count_life_in
from shopfloor.services.station.page import at_station
from shopfloor.store import EstimateGeneration, EstimatePart, Material, TapType
from shopfloor.store.queries.log import cutting_conditions
from tests.factories import Shop, reopen_shop
from tests.kept import copied
from tests.services.advice.kept_log import EXACT, kept, lives, log, newest, said
from tests.services.conftest import ON_BOTH


def refuse(*_: object) -> NoReturn:
    """In place of what must not happen."""
    raise AssertionError("worked out from the log")


@pytest.fixture(scope="module")
def lived_file(furnished_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime]:
    """The file of a shop with lives, to be copied and never opened, and how late it is there."""
    folder = tmp_path_factory.mktemp("lived")
    shop = reopen_shop(copied(furnished_sqlite, folder / "shop.sqlite"), folder)
    lives(shop)
    shop.work.close()
    return folder / "shop.sqlite", shop.clock()


@pytest.fixture
def lived(lived_file: tuple[Path, datetime], tmp_path: Path) -> Iterator[Shop]:
    """A shop with lives, on SQLite."""
    path, now = lived_file
    shop = reopen_shop(copied(path, tmp_path / "shop.sqlite"), tmp_path, now)
    yield shop
    shop.work.close()


@pytest.fixture
def only_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is in memory, and nothing can be worked out from the log."""
    monkeypatch.setattr(estimates, "WorkedOut", refuse)
    estimates.forget()


@pytest.mark.parametrize("measure", LifeMeasure)
def test_a_generation_says_what_the_log_says(
    lived: Shop, measure: LifeMeasure, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last digit: advice, fits, risks of a tap by its own past and slips."""
    count_life_in(lived.work, measure)
    at_once = said(lived)
    make_generation(lived.work)
    monkeypatch.setattr(estimates, "WorkedOut", refuse)
    estimates.forget()
    assert at_once == said(lived)


@ON_BOTH
def test_a_generation_depends_on_the_log_alone(shop: Shop) -> None:
    """Worked out after each of some runs, or for the first time after the last of them: the same bytes."""
    lives(shop, taps=6)
    for holes, end in ((20, TapEnd.STILL_GOOD), (25, TapEnd.WORN)):
        log(shop, "T1", holes, tap_end=end)
        make_generation(shop.work)
    step_by_step = newest(shop)
    with shop.work.write() as session:
        session.execute(delete(EstimatePart))
        session.execute(delete(EstimateGeneration))
    make_generation(shop.work)
    assert step_by_step == newest(shop)
    assert {"facts", "evidence", "policies", "slips", "posterior break", "draws wear", "lives 1"} <= step_by_step.keys()


def test_only_what_changed_is_stored_and_only_the_last_five_stay(sqlite_shop: Shop) -> None:
    """The lives of a tap type that was not used stay as they were stored first, through more generations than stay."""
    lives(sqlite_shop, taps=4)
    log(sqlite_shop, "B1", 30, job="J3")
    for _ in range(7):
        log(sqlite_shop, "T1", 10)
        make_generation(sqlite_shop.work)
    numbers, parts = kept(sqlite_shop)
    assert [3, 4, 5, 6, 7] == numbers
    assert [1] == [since for name, since in parts if name == "lives 2"]
    assert [3, 4, 5, 6, 7] == sorted(since for name, since in parts if name == "lives 1")


def test_a_page_knows_the_taps_holes_beyond_the_generation(lived: Shop, only_kept: None) -> None:
    """The risk follows the tap's own holes and slips to the last; what lives taught stands as of then, and is named."""
    made_at = lived.clock()
    make_generation(lived.work)
    before = at_station(lived.work, "arm", "ada", "J1", rest=50, has_rest=True).tap
    log(lived, "T1", 60, 9)
    after = at_station(lived.work, "arm", "ada", "J1", rest=50, has_rest=True).tap
    assert before is not None
    assert after is not None
    assert (100, 160, made_at) == (before.holes, after.holes, after.outlook.as_of)
    assert before.outlook.evidence == after.outlook.evidence
    assert before.outlook.risk is not None
    assert after.outlook.risk is not None
    assert (before.outlook.risk.value or 0) < (after.outlook.risk.value or 0)
    assert before.outlook.slips.slips < after.outlook.slips.slips
    assert is_due(lived.work)


def test_the_next_generation_takes_over(lived: Shop, only_kept: None) -> None:
    """What a page had read of the one before is read again only where it differs."""
    log(lived, "B1", 30, job="J3")
    make_generation(lived.work)
    with lived.work.read() as session:
        book = LifeBook.open(lived.work, session)
        first = [book.once(tap_type, "kept", lambda: object()) for tap_type in (1, 2)]
    log(lived, "T1", 50, tap_end=TapEnd.BROKEN, broke_at_hole=50)
    make_generation(lived.work)
    assert not is_due(lived.work)
    with lived.work.read() as session:
        book = LifeBook.open(lived.work, session)
        second = [book.once(tap_type, "kept", lambda: object()) for tap_type in (1, 2)]
        seen = book.observed(EXACT)
    assert seen is not None
    assert [False, True] == [one is other for one, other in zip(first, second, strict=True)]


def test_a_long_log_without_a_generation_says_so_at_once(
    lived: Shop, monkeypatch: pytest.MonkeyPatch, only_kept: None
) -> None:
    """Nothing is worked out while a page waits; each says that it will be, and shows what it knows without."""
    monkeypatch.setattr(estimates, "YOUNG", 4)
    page, found = at_station(lived.work, "arm", "ada", "J1"), life_curve(lived.work, LifeQuestion("M8 SP"))
    assert page.tap is not None
    (tap,) = board(lived.work).taps
    for outlook in (page.tap.outlook, tap.outlook):
        assert (NOT_YET, None, None) == (outlook.reason, outlook.risk, outlook.decision.change_at)
    assert (100, 100) == (page.tap.holes, tap.holes)
    assert (None, False) == (found.curve, found.is_ready)
    assert 12 < found.choices.tap_types[0].lives


def test_a_generation_written_otherwise_is_not_read(lived: Shop) -> None:
    """Another version of the program may have made it: the log answers, and a new one is due once it is long."""
    make_generation(lived.work)
    with lived.work.write() as session:
        session.execute(update(EstimateGeneration).values(written_as=0))
    with lived.work.read() as session:
        book = LifeBook.open(lived.work, session)
        assert (True, None) == (book.is_ready, book.as_of)


def test_what_the_catalogue_gained_since_is_known(lived: Shop, only_kept: None) -> None:
    """A new tap type with a coating, in a new material, is judged by them from the first page on."""
    make_generation(lived.work)
    with lived.work.write() as session:
        kind = TapType(code="M8 TiN", thread="M8", coating=" TiN")
        material = Material(code="brass", name="Brass", iso_group=IsoGroup.N)
        session.add_all([kind, material])
        session.flush()
        keys = kind.id, material.id
    with lived.work.read() as session:
        book = LifeBook.open(lived.work, session)
        advice = book.advice(cutting_conditions(keys[0], "M8", keys[1], 300))
    assert (Trait.COATING, "tin") in advice._condition.traits
    assert IsoGroup.N is advice._condition.iso_group
    assert advice.change is not None


def test_estimates_are_due_after_all_lives_were_recalculated(lived: Shop) -> None:
    """A newer version may read the same log otherwise; until then pages keep what they have."""
    make_generation(lived.work)
    due = [is_due(lived.work)]
    rebuild(lived.work)
    due.append(is_due(lived.work))
    with lived.work.read() as session:
        assert LifeBook.open(lived.work, session).as_of is not None
    assert [False, True] == due


def test_an_empty_log_can_be_worked_out(sqlite_shop: Shop, only_kept: None) -> None:
    """Nothing is known then, and pages say as much."""
    assert (1, ["facts"]) == (make_generation(sqlite_shop.work), list(newest(sqlite_shop)))
    with sqlite_shop.work.read() as session:
        book = LifeBook.open(sqlite_shop.work, session)
        assert (True, None, None) == (book.is_ready, book.group(EXACT), book.advice(EXACT).change)


def test_a_young_log_needs_no_generation(sqlite_shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """It answers at once; a longer one is due until there is one, and again after each entry."""
    lives(sqlite_shop, taps=3)
    assert not is_due(sqlite_shop.work)
    monkeypatch.setattr("shopfloor.services.advice.lag.YOUNG", 2)
    due = [is_due(sqlite_shop.work)]
    make_generation(sqlite_shop.work)
    due.append(is_due(sqlite_shop.work))
    log(sqlite_shop, "T1", 5)
    assert [True, False, True] == [*due, is_due(sqlite_shop.work)]
