"""The stock of a type and the places of its marked taps are one incident: never fewer in stock than lie in the crib."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, text

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.crib_entries import MoveChange
from shopfloor.core.vocabulary import GaugeResult, MovementKind, TapEnd
from shopfloor.services.crib.orders import Stand, ledger
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movement_corrections import cancel_movement, correct_movement
from shopfloor.services.ledger.movements import book_box, move_tap, receive
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run, undo_run
from shopfloor.store import Run, StockMovement, Tap, TapType
from shopfloor.store.queries.log import counts
from tests.factories import Shop, reopen_shop
from tests.kept import copied
from tests.services.conftest import ON_BOTH
from tests.services.stock import M8, count, delivery, line, move

_WHY = ("mistaken", "bo")


def codes(shop: Shop) -> list[str]:
    """The shop's M8 taps that the ledger may have heard of."""
    with shop.work.read() as session:
        kind = select(TapType.id).where(TapType.code == M8).scalar_subquery()
        known = select(Tap.code).where(Tap.tap_type_id == kind, ~Tap.code.in_(["T1", "T2", "T3"]))
        return list(session.scalars(known.order_by(Tap.code)))


def in_crib(shop: Shop) -> list[str]:
    """Those of them whose own page says that they are in the crib."""
    return [code for code in codes(shop) if tap_history(shop.work, code).place == "in the crib"]


def marked(shop: Shop, number: int) -> None:
    """So many taps with codes of their own come into the crib."""
    receive(shop.work, delivery(number, codes=tuple(f"N{n}" for n in range(1, number + 1))), "bo")
    shop.clock.move(minutes=1)


def box(shop: Shop, kind: MovementKind, number: int) -> uuid.UUID:
    """Book unmarked taps out, or a count."""
    id_ = uuid.uuid4()
    shop.clock.move(minutes=1)
    book_box(shop.work, id_, M8, kind, number, "bo")
    return id_


@pytest.mark.parametrize("kind", [MovementKind.LOST, MovementKind.SCRAPPED])
def test_marked_taps_do_not_leave_unnamed(shop: Shop, kind: MovementKind) -> None:
    """Eight in stock, four of them marked: of eight that are lost it must be said which the marked ones are."""
    receive(shop.work, delivery(4), "bo")
    marked(shop, 4)
    told = (
        "8 are to leave, but 4 are unmarked by the ledger; 4 marked taps lie in the crib (N1, N2, N3, N4); "
        "record on each marked tap's page what became of it, or count the box first"
    )
    with pytest.raises(Conflict) as caught:
        box(shop, kind, 8)
    assert f"number: {told}" == str(caught.value)
    box(shop, kind, 4)
    for code in codes(shop):
        move(shop, code, kind)
    assert (0, []) == (ledger(shop.work, M8).balance, in_crib(shop))


@ON_BOTH
def test_a_count_names_the_marked_taps_that_it_misses(shop: Shop) -> None:
    """Two marked taps are in the crib: nobody counts one or none until the missing one is named."""
    marked(shop, 2)
    for number in (0, 1):
        with pytest.raises(Conflict, match=rf"{number} counted, but 2 marked taps lie in the crib \(N1, N2\)"):
            count(shop, number)
    move(shop, "N2", MovementKind.LOST)
    with pytest.raises(Conflict, match=r"0 counted, but 1 marked tap lies in the crib \(N1\)"):
        count(shop, 0)
    count(shop, 1)
    assert (1, ("N1",)) == (ledger(shop.work, M8).balance, ledger(shop.work, M8).marked)


def test_many_marked_taps_are_named_in_part(sqlite_shop: Shop) -> None:
    """A message that nobody can read helps nobody."""
    marked(sqlite_shop, 25)
    with pytest.raises(Conflict, match=r"25 marked taps lie in the crib \(N1, (N\d+, ){19}\.\.\.\)"):
        count(sqlite_shop, 3)


def test_a_corrected_count_may_not_miss_them_either(shop: Shop) -> None:
    """What is refused as an entry is refused as a correction."""
    marked(shop, 2)
    counted = box(shop, MovementKind.COUNTED, 5)
    change = MoveChange(uuid.uuid4(), shop.clock.now, number=1)
    with pytest.raises(Conflict, match=r"would have had 1 taps on 2026-06-01 12:02, but 2 marked ones lay there"):
        correct_movement(shop.work, counted, change, *_WHY)
    assert 5 == ledger(shop.work, M8).balance


@ON_BOTH
def test_what_left_the_box_rests_on_its_count(shop: Shop) -> None:
    """Four of five counted ones were scrapped: without the count there were none to scrap."""
    counted = box(shop, MovementKind.COUNTED, 5)
    gone = box(shop, MovementKind.SCRAPPED, 4)
    with pytest.raises(Conflict, match="would have had -4 taps on 2026-06-01 12:02; cancel what left the crib"):
        cancel_movement(shop.work, counted, *_WHY)
    cancel_movement(shop.work, gone, *_WHY)
    cancel_movement(shop.work, counted, *_WHY)
    assert 0 == ledger(shop.work, M8).balance


def test_a_record_that_disagrees_already_says_so(shop: Shop) -> None:
    """Booked by an older version: the order list and the ledger ask for a count, and the count settles it."""
    marked(shop, 2)
    with shop.work.write() as session:
        kind = session.scalars(select(TapType).where(TapType.code == M8)).one()
        lost = {"kind": MovementKind.LOST, "tap_type_id": kind.id, "quantity": -2}
        session.add(StockMovement(id=uuid.uuid4(), recorded_at=shop.clock(), moved_at=shop.clock(), **lost))
    found = line(shop)
    assert Stand.COUNT is found.stand
    assert found.reason.startswith("0 in the crib by the ledger, but 2 marked taps lie there; ")
    assert -2 == ledger(shop.work, M8).unmarked
    with pytest.raises(Conflict, match=r"1 are to leave, but 0 are unmarked by the ledger; 2 marked taps lie"):
        box(shop, MovementKind.LOST, 1)
    count(shop, 2)
    assert Stand.COUNT is not line(shop).stand


def test_a_tap_from_an_empty_box_is_told_too(shop: Shop) -> None:
    """A tap in hand is never refused: that it came out of nowhere is told, though marked ones hide it in the sum."""
    marked(shop, 2)
    fit_new_tap(shop.work, M8, "arm", "ada")
    assert (1, ["N1", "N2"], Stand.COUNT) == (ledger(shop.work, M8).balance, in_crib(shop), line(shop).stand)


def test_a_tap_that_fails_the_gauge_in_the_crib_is_still_there(shop: Shop) -> None:
    """Its place is where it lies, its state what it is; it leaves when somebody books it."""
    marked(shop, 1)
    log_run(shop.work, shop.entry(tap="N1"))
    move(shop, "N1", MovementKind.RETURNED)
    record_gauge_check(shop.work, uuid.uuid4(), "N1", GaugeResult.FAILED, "bo")
    assert (["N1"], 1) == (in_crib(shop), ledger(shop.work, M8).balance)
    move(shop, "N1", MovementKind.SENT_TO_REGRIND)
    assert ([], 0) == (in_crib(shop), ledger(shop.work, M8).balance)


_STEPS = (
    "receive", "receive marked", "fit", "fit new", "run", "late run", "break", "wear", "take off", "send", "back",
    "lose", "scrap", "count", "scrap box", "lose box", "gauge", "cancel move", "correct move", "cancel run",
    "undo run", "other tap",
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(_STEPS), st.integers(0, 7)), max_size=25))
def test_stock_never_falls_below_the_marked_taps_in_the_crib(
    furnished_sqlite: Path, tmp_path: Path, steps: list[tuple[str, int]]
) -> None:
    """After anything that is accepted, corrections too; only a tap in hand is never refused, and that is told."""
    shop = reopen_shop(copied(furnished_sqlite, tmp_path / f"{uuid.uuid4()}.sqlite"), tmp_path)
    with closing(shop.work):
        for step, n in steps:
            shop.clock.move(minutes=1)
            _try(shop, step, n)
            found, there = ledger(shop.work, M8), in_crib(shop)
            assert sorted(there) == sorted(found.marked)
            taken = sum(one.kind is MovementKind.ISSUED and one.quantity < 0 for one in found.lines)
            assert found.balance >= len(there) or (taken and line(shop).stand is Stand.COUNT)
            assert found.balance >= -taken


def test_the_movement_of_a_tap_stays_that_of_one(sqlite_shop: Shop) -> None:
    """A number is of unmarked taps; one that comes with the correction of a tap's movement changes nothing."""
    code = fit_new_tap(sqlite_shop.work, M8, "arm", "ada")
    sqlite_shop.clock.move(minutes=1)
    moved = uuid.uuid4()
    move_tap(sqlite_shop.work, moved, code, MovementKind.SCRAPPED, "bo")
    before = ledger(sqlite_shop.work, M8).balance
    correct_movement(sqlite_shop.work, moved, MoveChange(uuid.uuid4(), sqlite_shop.clock(), number=2), *_WHY)
    assert before == ledger(sqlite_shop.work, M8).balance


def test_a_tap_received_after_its_run_is_in_the_crib(sqlite_shop: Shop) -> None:
    """A run that is entered late, with the time before the delivery, does not take the tap out of the box again."""
    code = receive_tap(sqlite_shop.work, None, M8, "bo")
    log_run(sqlite_shop.work, sqlite_shop.entry(tap=code, ended_at=sqlite_shop.clock() - timedelta(minutes=6)))
    assert ([code], (code,)) == (in_crib(sqlite_shop), ledger(sqlite_shop.work, M8).marked)


def _try(shop: Shop, step: str, n: int) -> None:
    """Take one step; what the shop refuses is left out."""
    with shop.work.read() as session:
        # As they were entered, so that the same steps do the same again: the ids are different each time.
        moves = list(session.scalars(select(StockMovement.id).where(counts(StockMovement)).order_by(text("rowid"))))
        runs = list(session.scalars(select(Run.id).where(counts(Run)).order_by(text("rowid"))))
    known = codes(shop)
    tap, other = (known[n % len(known)], known[(n + 1) % len(known)]) if known else ("T9999", "T9999")
    moved = moves[-1 - n % len(moves)] if moves else uuid.uuid4()
    ran = runs[-1 - n % len(runs)] if runs else uuid.uuid4()
    id_, work, entry = uuid.uuid4(), shop.work, partial(shop.entry, tap=tap, holes=10 + n)
    earlier = shop.clock() - timedelta(minutes=2 * n, seconds=30)
    actions: dict[str, Callable[[], object]] = {
        "receive": lambda: receive(work, delivery(n + 1), "bo"),
        "receive marked": lambda: receive_tap(work, None, M8, "bo"),
        "fit": lambda: fit_tap(work, tap, ("arm", "air")[n % 2], "ada"),
        "fit new": lambda: fit_new_tap(work, M8, "arm", "ada"),
        "run": lambda: log_run(work, entry()),
        "late run": lambda: log_run(work, entry(ended_at=earlier)),
        "break": lambda: log_run(work, entry(tap_end=TapEnd.BROKEN)),
        "wear": lambda: log_run(work, entry(tap_end=TapEnd.WORN)),
        "take off": lambda: move_tap(work, id_, tap, MovementKind.RETURNED, "ada"),
        "send": lambda: move_tap(work, id_, tap, MovementKind.SENT_TO_REGRIND, "bo"),
        "back": lambda: move_tap(work, id_, tap, MovementKind.REGROUND, "bo"),
        "lose": lambda: move_tap(work, id_, tap, MovementKind.LOST, "bo"),
        "scrap": lambda: move_tap(work, id_, tap, MovementKind.SCRAPPED, "bo"),
        "count": lambda: book_box(work, id_, M8, MovementKind.COUNTED, n, "bo"),
        "scrap box": lambda: book_box(work, id_, M8, MovementKind.SCRAPPED, n, "bo"),
        "lose box": lambda: book_box(work, id_, M8, MovementKind.LOST, n, "bo"),
        "gauge": lambda: record_gauge_check(work, id_, tap, list(GaugeResult)[n % 2], "bo"),
        "cancel move": lambda: cancel_movement(work, moved, *_WHY),
        "correct move": lambda: correct_movement(work, moved, MoveChange(id_, earlier, number=n), *_WHY),
        "cancel run": lambda: cancel_run(work, ran, *_WHY),
        "undo run": lambda: undo_run(work, ran),
        "other tap": lambda: correct_run(work, ran, shop.entry(id=id_, tap=other, ended_at=earlier), *_WHY),
    }
    try:
        actions[step]()
    except (InputError, LookupError):
        return
