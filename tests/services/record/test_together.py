"""Two people at the same moment: one after the other, each told the truth, on either database."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from shopfloor.core.errors import InputError
from shopfloor.core.input.crib_entries import CheckChange, Delivery
from shopfloor.core.vocabulary import GaugeResult, MovementKind, Role
from shopfloor.services.access.credentials import first_supervisor, give_secret, holders
from shopfloor.services.access.log_in import sign_in
from shopfloor.services.access.tablets import enrol
from shopfloor.services.catalogue.tap_types import add_tap_type
from shopfloor.services.catalogue.things import add
from shopfloor.services.crib.orders import ledger
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_check_corrections import cancel_check, correct_check
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movement_corrections import cancel_movement
from shopfloor.services.ledger.movements import book_box, move_tap, receive
from shopfloor.services.ledger.taps import fit_new_tap, fit_tap, receive_tap
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run, undo_run
from shopfloor.store import SignIn
from tests.factories import Shop
from tests.services.at_once import together
from tests.services.conftest import ON_BOTH
from tests.services.looking import life_of, tables

M8 = "M8 SP"
ROUNDS = 3


def refused(answers: list[Any]) -> int:
    """How many of the answers are refusals."""
    return sum(isinstance(answer, InputError) for answer in answers)


def logged(shop: Shop) -> uuid.UUID:
    """A run of 48 holes with T1."""
    shop.clock.move(minutes=1)
    return log_run(shop.work, shop.entry()).run_id


@pytest.fixture
def true_summaries(shop: Shop) -> Any:
    """After the test, the summaries must be what the log tells."""
    yield
    kept = tables(shop)
    rebuild(shop.work)
    assert tables(shop) == kept


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_of_two_corrections_at_once_one_holds(shop: Shop) -> None:
    """The other person is told that the run was corrected in the meantime."""
    for round_ in range(1, ROUNDS + 1):
        run = logged(shop)
        new = [shop.entry(holes=holes) for holes in (50, 50)]
        answers = together(*(partial(correct_run, shop.work, run, entry, "counted again", "bo") for entry in new))
        assert (1, 50 * round_) == (refused(answers), life_of(shop).holes)


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_a_correction_sent_twice_at_once_is_stored_once(shop: Shop) -> None:
    """A second tap on the button is no second correction and no error."""
    for _ in range(ROUNDS):
        run, entry = logged(shop), shop.entry(holes=50)
        answers = together(*[partial(correct_run, shop.work, run, entry, "counted again", "bo")] * 2)
        assert [False, True] == sorted(answer.is_new for answer in answers)


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
@pytest.mark.parametrize("end", [undo_run, partial(cancel_run, reason="entered twice", by="bo")])
def test_a_run_cannot_be_undone_and_corrected_at_once(shop: Shop, end: Callable[..., None]) -> None:
    """One of both is told to open the newest entry; the tap has the holes that the other left."""
    holes = 0
    for _ in range(ROUNDS):
        run = logged(shop)
        answers = together(
            partial(correct_run, shop.work, run, shop.entry(holes=50), "counted again", "bo"),
            partial(end, shop.work, run),
        )
        assert 1 == refused(answers)
        holes += 0 if isinstance(answers[0], InputError) else 50
        assert holes == life_of(shop).holes


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_a_run_undone_twice_at_once_is_undone(shop: Shop) -> None:
    """A second tap on the button changes nothing."""
    for _ in range(ROUNDS):
        run = logged(shop)
        assert [None, None] == together(*[partial(undo_run, shop.work, run)] * 2)
    assert 0 == life_of(shop).holes


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_checks_and_movements_of_one_tap_at_once_all_count(shop: Shop) -> None:
    """A run, a gauge check and a movement of the same tap do not stand in each other's way."""
    for _ in range(ROUNDS):
        logged(shop)
        together(
            partial(log_run, shop.work, shop.entry()),
            partial(record_gauge_check, shop.work, uuid.uuid4(), "T1", GaugeResult.PASSED, "bo"),
            partial(move_tap, shop.work, uuid.uuid4(), "T1", MovementKind.RETURNED, "bo"),
        )
    assert 2 * ROUNDS * 48 == life_of(shop).holes


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_a_check_is_corrected_or_cancelled_not_both(shop: Shop) -> None:
    """Of a correction, another one and a cancellation at once one holds, or the correction is told of the other."""
    for _ in range(ROUNDS):
        logged(shop)
        check = uuid.uuid4()
        record_gauge_check(shop.work, check, "T1", GaugeResult.PASSED, "bo")
        changes = [CheckChange(uuid.uuid4(), GaugeResult.PASSED, shop.clock()) for _ in range(2)]
        answers = together(
            *(partial(correct_check, shop.work, check, change, "misread", "bo") for change in changes),
            partial(cancel_check, shop.work, check, "another tap", "bo"),
        )
        assert 2 == refused(answers)


@ON_BOTH
@pytest.mark.usefixtures("true_summaries")
def test_a_fit_is_cancelled_or_rested_on(shop: Shop) -> None:
    """A fit cancelled while the tap is used: either the run told of it first, or the run books the tap out itself."""
    receive_tap(shop.work, "N1", M8, "bo")
    for _ in range(ROUNDS):
        shop.clock.move(minutes=1)
        fit_tap(shop.work, "N1", "arm", "bo")
        fit = next(move.id for move in tap_history(shop.work, "N1").movements if move.change is None)
        shop.clock.move(minutes=1)
        together(
            partial(cancel_movement, shop.work, fit, "mistaken", "bo"),
            partial(log_run, shop.work, shop.entry(tap="N1")),
        )
        assert (0, "in arm") == (ledger(shop.work, M8).balance, tap_history(shop.work, "N1").place)
        shop.clock.move(minutes=1)
        move_tap(shop.work, uuid.uuid4(), "N1", MovementKind.RETURNED, "bo")
        assert 1 == ledger(shop.work, M8).balance


@ON_BOTH
def test_new_taps_taken_at_once_get_different_codes(shop: Shop) -> None:
    """Four people take a tap out of the box; each is told a code of their own."""
    for round_ in range(1, ROUNDS + 1):
        codes = together(*[partial(fit_new_tap, shop.work, M8, "arm", "ada")] * 4)
        assert (4, -4 * round_) == (len(set(codes)), ledger(shop.work, M8).balance)


@ON_BOTH
def test_a_delivery_sent_twice_at_once_is_booked_once(shop: Shop) -> None:
    """Both senders are told the same codes."""
    for round_ in range(1, ROUNDS + 1):
        delivery = Delivery(uuid.uuid4(), M8, 3, holes_before=None)
        one, other = together(*[partial(receive, shop.work, delivery, "bo")] * 2)
        assert (one, 3, 3 * round_) == (other, len(one), ledger(shop.work, M8).balance)


@ON_BOTH
def test_two_counts_at_once_leave_what_was_counted(shop: Shop) -> None:
    """Both found seven taps: the ledger has seven, not fourteen."""
    for _ in range(ROUNDS):
        receive_tap(shop.work, None, M8, "bo")
        together(*(partial(book_box, shop.work, uuid.uuid4(), M8, MovementKind.COUNTED, 7, "bo") for _ in range(2)))
        assert 7 == ledger(shop.work, M8).balance


@ON_BOTH
def test_of_many_first_supervisors_at_once_one_is_made(shop: Shop) -> None:
    """The others are told that there is one already, and have no password."""
    secret = {"secret": "seven blunt taps", "again": "seven blunt taps"}
    answers = together(*(partial(first_supervisor, shop.work, {"person": who, **secret}) for who in ("ada", "bo") * 3))
    assert 5 == refused(answers)
    made = next(answer for answer in answers if isinstance(answer, str))
    assert [made] == [one.code for one in holders(shop.work) if one.has_password or Role.ADMIN in one.roles]


@ON_BOTH
def test_of_two_tablets_enrolled_at_once_one_has_the_name(shop: Shop) -> None:
    """The other supervisor is asked for another name."""
    for n in range(ROUNDS):
        assert 2 == refused(together(*[partial(enrol, shop.work, f"Arm {n}", "bo")] * 3))


@ON_BOTH
def test_of_two_who_log_in_at_one_tablet_at_once_one_is_there(shop: Shop) -> None:
    """The last one took it over."""
    first_supervisor(shop.work, {"person": "bo", "secret": "seven blunt taps", "again": "seven blunt taps"})
    give_secret(shop.work, {"person": "ada", "secret": "271828", "again": "271828"})
    tablet, _ = enrol(shop.work, "Arm 1", "bo")
    for _ in range(ROUNDS):
        together(
            partial(sign_in, shop.work, "ada", "271828", tablet),
            partial(sign_in, shop.work, "bo", "seven blunt taps", tablet),
        )
        with shop.work.read() as session:
            assert 1 == session.scalar(select(func.count()).where(SignIn.ended_at.is_(None)))


@ON_BOTH
def test_one_new_code_is_given_once(shop: Shop) -> None:
    """Of two people who add the same tap type, or the same station, one is told that the code is taken."""
    for n in range(ROUNDS):
        kind = {"code": f"M5 no. {n}", "thread": "M5"}
        station = {"code": f"arm-{n}", "name": "Arm", "kind": "electric arm", "rpm_min": "25", "rpm_max": "500"}
        assert 1 == refused(together(*[partial(add_tap_type, shop.work, kind)] * 2))
        assert 1 == refused(together(*[partial(add, shop.work, "stations", station)] * 2))


@ON_BOTH
def test_a_file_brought_in_twice_at_once_is_stored_once(shop: Shop, tmp_path: Path) -> None:
    """Each row is new for one of both."""
    log = tmp_path / "log.csv"
    rows = "\n".join(f"2026-05-04,N{n},M8 SP,brass,250,48,good" for n in range(20))
    log.write_text(f"when,tap,tap type,material,rpm,holes,tap end\n{rows}\n", encoding="utf-8")
    answers = together(*[partial(import_runs, shop.work, log)] * 2)
    assert [0, 20] == sorted(answer.stored for answer in answers)
