"""Station, crib, start page, set-up card and tablet say the same of every tap, in word and number."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from seed.load import load
from seed.simulate import simulate
from shopfloor.app import create_app
from shopfloor.core.decision.when_to_change import Action, decide
from shopfloor.services.advice.estimator import make_generation
from shopfloor.services.crib.board import TapInUse, board
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.overview import overview
from shopfloor.services.record.work import Work
from shopfloor.services.station.offline_advice import kept_advice
from shopfloor.services.station.page import TapHere, at_station
from shopfloor.services.station.set_up_card import card_at
from shopfloor.settings import Settings
from shopfloor.web.i18n.decision_words import what_to_do
from shopfloor.web.operator.words import suggestion_for
from tests import kept

TODAY = datetime(2026, 11, 25, 23, tzinfo=UTC)
SEEDS = [7, 104]


def ticking() -> Callable[[], datetime]:
    """A clock that is a second further each time, so that what is fitted last is known."""
    seconds = count()
    return lambda: TODAY + timedelta(seconds=next(seconds))


@pytest.fixture(scope="module", params=SEEDS, ids=["demo", "other"])
def shop(
    request: pytest.FixtureRequest, migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Work]:
    """The demo shop, and another history of it."""
    folder = tmp_path_factory.mktemp("shop")
    url = kept.copied(migrated_sqlite, folder / "shopfloor.sqlite")
    work = Work.on(Settings(database=url, data_folder=folder), clock=ticking())
    load(work, simulate(TODAY, request.param))
    make_generation(work)
    yield work
    work.close()


def pairs(work: Work) -> Iterator[tuple[TapInUse, TapHere]]:
    """Every tap of the board whose job is open, as the crib and as its station see it."""
    for tap in board(work).taps:
        if tap.station is None or tap.next_batch is None or tap.next_batch.job is None:
            continue
        fit_tap(work, tap.code, tap.station, "ada")
        page = at_station(work, tap.station, None, tap.next_batch.job)
        if page.job is not None:
            assert page.tap is not None
            yield tap, page.tap


def chance(tap: TapInUse | TapHere) -> float | None:
    """That it breaks in the batch."""
    return None if tap.outlook.risk is None else tap.outlook.risk.value


def test_station_and_crib_decide_alike(shop: Work) -> None:
    """The same batch, the same action, the same numbers; and the words of the station follow from them."""
    seen = []
    for on_board, here in pairs(shop):
        assert on_board.code == here.code
        assert on_board.outlook.decision == here.outlook.decision
        assert chance(on_board) == pytest.approx(chance(here))
        seen.append(here.outlook.decision)
        with create_app(shop).test_request_context("/"):
            told = what_to_do(on_board.outlook.decision)
            assert not told or suggestion_for(here).text.startswith(told.rstrip("."))
    assert len(seen) > 5
    for one in seen:
        assert one.made is not None
        if one.action is Action.CARRY_ON:
            assert one.change_at is not None
            assert one.made + (one.batches or 0) * one.batch <= one.change_at


def test_the_start_page_counts_what_the_board_says(shop: Work) -> None:
    """Due now, and in the next batch."""
    counts, found = board(shop).counts, overview(shop)
    assert found is not None
    assert (counts[Action.CHANGE_NOW], counts[Action.WITHIN] + counts[Action.AFTER]) == (
        found.due.now,
        found.due.next_batch,
    )


def test_card_and_kept_table_decide_as_the_station(shop: Work) -> None:
    """For each station's last jobs; after further holes the tablet decides as the station page would."""
    compared = 0
    for station in board(shop).stations:
        for row in kept_advice(shop, station):
            page = at_station(shop, station, None, row.job)
            if page.tap is None or page.tap.code != row.tap or row.timing is None:
                continue
            said = page.tap.outlook.decision
            assert said == decide(row.made, said.batch, row.timing)
            card = card_at(shop, station, row.job).tap
            assert card is not None
            assert said == card.outlook.decision
            compared += 1
    assert compared > 2
