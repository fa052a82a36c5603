"""Log, correct, cancel, undo: each once, whole or not at all, with nothing ever lost."""

from __future__ import annotations

import uuid
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from sqlalchemy import func, select

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.vocabulary import Cause, PartFate, TapEnd, TapState
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run, undo_run
from shopfloor.store import Cancellation, Incident, Run
from shopfloor.store.queries.log import counts
from tests.factories import Shop
from tests.services.conftest import ON_BOTH
from tests.services.looking import life_of


def number_of(shop: Shop, table: type[Run] | type[Incident] | type[Cancellation], *where: object) -> int:
    """Rows of the table."""
    with shop.work.read() as session:
        return session.scalar(select(func.count()).select_from(table).where(*where)) or 0  # type: ignore[arg-type]


def test_a_run_counts_on_its_tap(shop: Shop) -> None:
    """Holes, slips and place of the tap follow from the log."""
    log_run(shop.work, shop.entry(holes=48, cutting_slips=2))
    log_run(shop.work, shop.entry(holes=12, cutting_slips=1))
    life = life_of(shop)
    assert (60, 3, TapState.IN_SERVICE) == (life.holes, life.cutting_slips, life.state)


def test_holes_made_are_those_up_to_the_break_in_python_and_in_sql(shop: Shop) -> None:
    """All holes of a run whose tap lasts or breaks nobody knows where; else those up to the hole of the break."""
    log_run(shop.work, shop.entry(holes=48))
    log_run(shop.work, shop.entry(tap="T2", holes=30, tap_end=TapEnd.BROKEN))
    log_run(shop.work, shop.entry(tap="T3", holes=20, tap_end=TapEnd.BROKEN, broke_at_hole=7))
    with shop.work.read() as session:
        runs = session.execute(select(Run, Run.holes_made).order_by(Run.holes.desc())).all()
    assert [(48, 48), (30, 30), (7, 7)] == [(run.holes_made, in_sql) for run, in_sql in runs]


@ON_BOTH
def test_the_same_run_twice_is_stored_once(shop: Shop) -> None:
    """A lost answer and a second send change nothing."""
    entry = shop.entry()
    answers = [log_run(shop.work, entry).is_new for _ in range(3)]
    assert [True, False, False] == answers
    assert 48 == life_of(shop).holes


def test_sending_again_later_is_the_same_run(shop: Shop) -> None:
    """Where the server's clock gives the time, a second send of the form has another one."""
    entry = shop.entry(is_clocked_here=True, device_time="2026-06-01T12:00:00+00:00")
    log_run(shop.work, entry)
    shop.clock.move(minutes=3)
    again = replace(entry, ended_at=shop.clock(), device_time="2026-06-01T12:03:00+00:00")
    assert not log_run(shop.work, again).is_new


def test_another_run_under_the_same_id_is_refused(shop: Shop) -> None:
    """The answer says in what they differ, and nothing is stored."""
    entry = shop.entry()
    log_run(shop.work, entry)
    with pytest.raises(Conflict, match="differs in: holes"):
        log_run(shop.work, replace(entry, holes=49))
    assert 1 == number_of(shop, Run)


@ON_BOTH
def test_eight_senders_at_once_store_one_run(shop: Shop) -> None:
    """Parallel sends of one id: one stores, seven are told that it is there."""
    entry = shop.entry()
    with ThreadPoolExecutor(8) as senders:
        answers = list(senders.map(lambda _: log_run(shop.work, entry).is_new, range(8)))
    assert [False] * 7 + [True] == sorted(answers)
    assert (1, 48) == (number_of(shop, Run), life_of(shop).holes)


@ON_BOTH
def test_runs_of_one_tap_at_once_all_count(shop: Shop) -> None:
    """Two stations that hand in the same tap's runs together lose none."""
    entries = [shop.entry(holes=n) for n in range(1, 9)]
    with ThreadPoolExecutor(4) as senders:
        list(senders.map(lambda entry: log_run(shop.work, entry), entries))
    assert sum(range(1, 9)) == life_of(shop).holes


def test_a_broken_tap_takes_no_more_runs(shop: Shop) -> None:
    """The message names the tap field; nothing is written."""
    log_run(shop.work, shop.entry(tap_end=TapEnd.BROKEN, broke_at_hole=7, part_fate=PartFate.SCRAPPED))
    shop.clock.move(minutes=5)
    with pytest.raises(Conflict, match=r"tap: .*broken before this run; choose the tap"):
        log_run(shop.work, shop.entry())
    assert (1, 7) == (number_of(shop, Run), life_of(shop).holes)


def test_a_run_from_before_the_break_may_come_late(shop: Shop) -> None:
    """A tablet that was offline hands in an earlier batch."""
    log_run(shop.work, shop.entry(tap_end=TapEnd.BROKEN, broke_at_hole=7))
    early = shop.entry()
    log_run(shop.work, replace(early, ended_at=early.ended_at.replace(hour=9)))
    assert (55, 55, 55) == (life_of(shop).holes, life_of(shop).lower, life_of(shop).upper)


@ON_BOTH
def test_a_broken_tap_leaves_an_incident(shop: Shop) -> None:
    """Cause and account are kept beside the run."""
    log_run(shop.work, shop.entry(tap_end=TapEnd.BROKEN, cause=Cause.CHIPS_PACKED, note="third part"))
    with shop.work.read() as session:
        incident = session.scalars(select(Incident)).one()
    assert (Cause.CHIPS_PACKED, "third part") == (incident.cause, incident.account)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"tap": "T99"}, "'T99' is not a tap of this shop"),
        ({"person": "zoe"}, "is not a person of this shop"),
        ({"station": "x"}, "is not a station of this shop"),
        ({"job": "J99"}, "is not a job of this shop"),
        ({"material": "wood"}, "is not a material of this shop"),
        ({"rpm": 501}, "rpm: Arm 1 does not run at 501; give its speed, 25 to 500 rpm"),
        ({"station": "air", "rpm": 300}, "give its speed, 350 rpm"),
    ],
)
def test_what_is_not_of_this_shop(sqlite_shop: Shop, changes: dict[str, object], told: str) -> None:
    """Unknown codes and impossible speeds are named, and nothing is written."""
    with pytest.raises(InputError, match=told):
        log_run(sqlite_shop.work, sqlite_shop.entry(**changes))
    assert 0 == number_of(sqlite_shop, Run)


def test_codes_are_found_in_any_case(shop: Shop) -> None:
    """Nobody looks for the shift key with gloves on."""
    log_run(shop.work, shop.entry(tap="t1", person="ADA"))
    assert 48 == life_of(shop).holes


@ON_BOTH
def test_a_correction_supersedes_and_keeps_the_old_row(shop: Shop) -> None:
    """480 for 48: the new row counts, the old one stays readable, both with who and when."""
    wrong = shop.entry(holes=480)
    log_run(shop.work, wrong)
    shop.clock.move(days=1)
    right = replace(wrong, id=uuid.uuid4(), holes=48)
    correct_run(shop.work, wrong.id, right, "mistyped", "bo")
    assert (2, 1, 48) == (number_of(shop, Run), number_of(shop, Run, counts(Run)), life_of(shop).holes)
    with shop.work.read() as session:
        row = session.get_one(Run, right.id)
        assert ("mistyped", wrong.id, shop.clock()) == (row.reason, row.supersedes_id, row.recorded_at)


def test_a_correction_sent_twice_is_stored_once(shop: Shop) -> None:
    """Corrections are as safe to repeat as runs."""
    wrong = shop.entry(holes=480)
    log_run(shop.work, wrong)
    right = replace(wrong, id=uuid.uuid4(), holes=48)
    answers = [correct_run(shop.work, wrong.id, right, "mistyped", "bo").is_new for _ in range(2)]
    assert [True, False] == answers


def test_two_corrections_of_one_run_conflict(shop: Shop) -> None:
    """The second person is told to look at the newest entry."""
    wrong = shop.entry()
    log_run(shop.work, wrong)
    correct_run(shop.work, wrong.id, replace(wrong, id=uuid.uuid4(), holes=47), "miscounted", "bo")
    with pytest.raises(Conflict, match="open the newest entry"):
        correct_run(shop.work, wrong.id, replace(wrong, id=uuid.uuid4(), holes=46), "miscounted", "ada")


def test_a_correction_may_move_a_run_to_another_tap(shop: Shop) -> None:
    """Both taps' lives are worked out anew."""
    wrong = shop.entry()
    log_run(shop.work, wrong)
    correct_run(shop.work, wrong.id, replace(wrong, id=uuid.uuid4(), tap="T2"), "other tap", "bo")
    assert (0, 48) == (life_of(shop, "T1").holes, life_of(shop, "T2").holes)


def test_a_correction_that_contradicts_the_log_changes_nothing(shop: Shop) -> None:
    """A run cannot turn out broken when the tap was used after it."""
    first = shop.entry()
    log_run(shop.work, first)
    shop.clock.move(hours=1)
    log_run(shop.work, shop.entry(holes=10))
    with pytest.raises(Conflict, match="broken before this run"):
        correct_run(shop.work, first.id, replace(first, id=uuid.uuid4(), tap_end=TapEnd.BROKEN), "broke", "bo")
    assert (2, 58) == (number_of(shop, Run), life_of(shop).holes)


@pytest.mark.parametrize("reason", ["", "   "])
def test_corrections_and_cancellations_need_a_reason(sqlite_shop: Shop, reason: str) -> None:
    """The record must say why."""
    entry = sqlite_shop.entry()
    log_run(sqlite_shop.work, entry)
    with pytest.raises(InputError, match="reason: it is missing"):
        correct_run(sqlite_shop.work, entry.id, replace(entry, id=uuid.uuid4()), reason, "bo")
    with pytest.raises(InputError, match="reason: it is missing"):
        cancel_run(sqlite_shop.work, entry.id, reason, "bo")


def test_a_cancelled_run_counts_no_more_and_stays(shop: Shop) -> None:
    """Who cancelled and why is kept; cancelling twice changes nothing."""
    entry = shop.entry(tap_end=TapEnd.BROKEN)
    log_run(shop.work, entry)
    for _ in range(2):
        cancel_run(shop.work, entry.id, "entered twice", "bo")
    assert (1, 1, 0) == (number_of(shop, Run), number_of(shop, Cancellation), life_of(shop).holes)
    assert TapState.UNUSED is life_of(shop).state


@ON_BOTH
def test_undo_within_its_time(shop: Shop) -> None:
    """One touch, no reason asked; the record says what happened."""
    entry = shop.entry()
    log_run(shop.work, entry)
    shop.clock.move(minutes=shop.work.settings.undo_minutes)
    undo_run(shop.work, entry.id)
    with shop.work.read() as session:
        assert "undone by the operator" == session.scalars(select(Cancellation.reason)).one()


def test_undo_too_late(shop: Shop) -> None:
    """After a while the operator is sent to the correction."""
    entry = shop.entry()
    log_run(shop.work, entry)
    shop.clock.move(minutes=shop.work.settings.undo_minutes, seconds=1)
    with pytest.raises(Conflict, match="correct it with a reason"):
        undo_run(shop.work, entry.id)
    assert 48 == life_of(shop).holes


def test_runs_that_are_not_there(sqlite_shop: Shop) -> None:
    """An id from nowhere is no crash."""
    for act in (
        lambda: undo_run(sqlite_shop.work, uuid.uuid4()),
        lambda: cancel_run(sqlite_shop.work, uuid.uuid4(), "x", "bo"),
    ):
        with pytest.raises(NotFound):
            act()


def test_a_correction_is_not_undone(shop: Shop) -> None:
    """Undoing it would take the whole run away; the operator is told to correct it again, and nothing is lost."""
    wrong = shop.entry(holes=480)
    log_run(shop.work, wrong)
    right = replace(wrong, id=uuid.uuid4(), holes=48)
    correct_run(shop.work, wrong.id, right, "mistyped", "bo")
    with pytest.raises(Conflict, match="correct it again"):
        undo_run(shop.work, right.id)
    assert 48 == life_of(shop).holes
