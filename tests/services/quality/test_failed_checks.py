"""A failed gauge check is an incident with its suspect runs; what is told of it outlives corrections of the check."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.floor.suspect_runs import Since
from shopfloor.core.input.crib_entries import CheckChange
from shopfloor.core.input.incident_report import CheckReport
from shopfloor.core.vocabulary import Cause, GaugeResult, MovementKind, TapEnd
from shopfloor.services.crib.tap_history import tap_history
from shopfloor.services.ledger.gauge_check_corrections import cancel_check, correct_check
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.movements import move_tap
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.quality.breakage import Period, incidents
from shopfloor.services.quality.failed_checks import FailedCheck, failed_check, failed_checks, report_failed_check
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

_WHY = ("looked again", "bo")


def run(shop: Shop, tap: str = "T1", **fields: object) -> uuid.UUID:
    """The tap makes 48 holes."""
    shop.clock.move(minutes=1)
    return log_run(shop.work, shop.entry(tap=tap, **fields)).run_id


def check(shop: Shop, result: GaugeResult, tap: str = "T1", **fields: str) -> uuid.UUID:
    """Gauge a thread that the tap cut."""
    shop.clock.move(minutes=1)
    id_ = uuid.uuid4()
    record_gauge_check(shop.work, id_, tap, result, "bo", note=fields.get("note"))
    return id_


passed, failed = (partial(check, result=result) for result in GaugeResult)


def found(shop: Shop) -> list[FailedCheck]:
    """Failed checks, the newest first."""
    all_of_them = failed_checks(shop.work, None, most=100)
    assert all_of_them.number == len(all_of_them.newest)
    return [*all_of_them.newest]


def suspects(incident: FailedCheck) -> list[uuid.UUID]:
    """The runs that it puts in doubt."""
    return [one.id for one in incident.runs]


def test_a_failed_check_opens_an_incident_with_all_runs_of_a_new_tap(shop: Shop) -> None:
    """Which parts, how many holes, where, by whom: all that is needed to find them."""
    runs = [run(shop, holes=50), run(shop, holes=83, job="J1")]
    id_ = failed(shop, note="GO does not enter")
    (incident,) = found(shop)
    assert (id_, "T1", "M8 SP", 133, Since.NEW, None) == (
        incident.check, incident.tap, incident.tap_type, incident.holes, incident.start, incident.since,
    )  # fmt: skip
    assert (runs, "GO does not enter", "Bo L.") == (suspects(incident), incident.note, incident.person)
    assert ("J1", "arm", "Ada K.") == (incident.runs[0].job, incident.runs[0].station, incident.runs[0].person)
    (shown,) = incidents(shop.work).shown
    assert incident == shown


def test_only_the_runs_since_the_last_check_that_passed(shop: Shop) -> None:
    """What was gauged before is good."""
    run(shop)
    passed(shop)
    at = shop.clock()
    later = run(shop)
    failed(shop)
    (incident,) = found(shop)
    assert ([later], Since.PASSED, at) == (suspects(incident), incident.start, incident.since)


def test_a_broken_run_is_suspect_up_to_the_break(shop: Shop) -> None:
    """The holes that the tap made, as everywhere."""
    run(shop)
    run(shop, holes=40, tap_end=TapEnd.BROKEN, broke_at_hole=7)
    failed(shop)
    assert 55 == found(shop)[0].holes


def test_a_regrind_begins_anew(shop: Shop) -> None:
    """Runs of the life before are not in doubt."""
    receive_tap(shop.work, "N1", "M8 SP", "bo")
    run(shop, "N1", tap_end=TapEnd.WORN)
    shop.clock.move(minutes=1)
    for kind in (MovementKind.SENT_TO_REGRIND, MovementKind.REGROUND):
        shop.clock.move(minutes=1)
        move_tap(shop.work, uuid.uuid4(), "N1", kind, "bo")
    later = run(shop, "N1")
    failed(shop, tap="N1")
    assert [([later], Since.REGROUND)] == [(suspects(one), one.start) for one in found(shop)]


def test_a_check_that_failed_by_mistake_takes_its_incident_with_it(shop: Shop) -> None:
    """Corrected or cancelled, it is gone from the lists, and its page is not there."""
    run(shop)
    wrong, cancelled = failed(shop), failed(shop)
    change = CheckChange(uuid.uuid4(), GaugeResult.PASSED, shop.clock())
    correct_check(shop.work, wrong, change, *_WHY)
    cancel_check(shop.work, cancelled, *_WHY)
    assert ([], 0) == (found(shop), incidents(shop.work).found)
    for id_ in (wrong, change.id, cancelled, uuid.uuid4()):
        with pytest.raises(NotFound):
            failed_check(shop.work, id_)


def test_a_check_that_should_have_failed_opens_one(shop: Shop) -> None:
    """Corrected the other way; the incident is known by the first id of the check and by any other."""
    made = run(shop)
    first = passed(shop)
    change = CheckChange(uuid.uuid4(), GaugeResult.FAILED, shop.clock())
    correct_check(shop.work, first, change, *_WHY)
    (incident,) = found(shop)
    assert (first, [made]) == (incident.check, suspects(incident))
    assert incident == failed_check(shop.work, change.id).incident == failed_check(shop.work, first).incident


def test_corrected_and_cancelled_runs_are_told_as_they_stand(shop: Shop) -> None:
    """The log tells the suspects: nothing is stored twice."""
    one, other = run(shop), run(shop)
    failed(shop)
    correct_run(shop.work, one, shop.entry(holes=50, ended_at=shop.clock.now.replace(second=0)), "counted anew", "bo")
    cancel_run(shop.work, other, *_WHY)
    assert [50] == [one.holes for one in found(shop)[0].runs]


@ON_BOTH
def test_the_cause_is_told_and_told_anew(shop: Shop) -> None:
    """Each telling stays readable; who wrote over what they did not see is refused; twice sent is once stored."""
    run(shop)
    id_ = failed(shop)
    first = CheckReport(uuid.uuid4(), None, Cause.LUBRICANT, "Dry.")
    for _ in range(2):
        report_failed_check(shop.work, id_, first, "", "bo")
    with pytest.raises(InputError, match="reason: it is missing"):
        report_failed_check(shop.work, id_, CheckReport(uuid.uuid4(), first.id, Cause.WORN_OUT, None), " ", "bo")
    second = CheckReport(uuid.uuid4(), first.id, Cause.WORN_OUT, "Past its life; 12 parts sorted out.")
    report_failed_check(shop.work, id_, second, "measured", "bo")
    for seen in (None, first.id):
        with pytest.raises(Conflict, match="in the meantime"):
            report_failed_check(shop.work, id_, CheckReport(uuid.uuid4(), seen, Cause.TOO_FAST, None), *_WHY)
    told = failed_check(shop.work, id_)
    assert [(Cause.LUBRICANT, "measured"), (Cause.WORN_OUT, None)] == [
        (one.cause, one.change.reason if one.change else None) for one in told.versions
    ]
    assert (Cause.WORN_OUT, second.account) == (found(shop)[0].cause, found(shop)[0].account)
    assert (((Cause.WORN_OUT, 0),), {Cause.WORN_OUT: 1}) == _by_cause(shop)
    assert 0 == incidents(shop.work, cause=Cause.LUBRICANT).found


def test_what_is_told_outlives_a_correction_of_the_check(shop: Shop) -> None:
    """The check was only noted wrongly: the incident stays with it. So it does where the same was found twice."""
    run(shop)
    id_, again = failed(shop), failed(shop)
    report_failed_check(shop.work, again, CheckReport(uuid.uuid4(), None, Cause.LUBRICANT, "Dry."), "", "bo")
    change = CheckChange(uuid.uuid4(), GaugeResult.FAILED, shop.clock(), "other gauge")
    correct_check(shop.work, id_, change, *_WHY)
    (incident,) = found(shop)
    assert (Cause.LUBRICANT, "Dry.") == (incident.cause, incident.account)
    assert {id_, again} == set(incident.checks)


def test_an_id_of_another_story_is_refused(shop: Shop) -> None:
    """Two taps, two incidents."""
    run(shop)
    run(shop, "T2")
    one, other = failed(shop), failed(shop, tap="T2")
    told = CheckReport(uuid.uuid4(), None, Cause.LUBRICANT, None)
    report_failed_check(shop.work, one, told, "", "bo")
    with pytest.raises(Conflict, match="used by another incident"):
        report_failed_check(shop.work, other, told, "", "bo")


@ON_BOTH
def test_breaks_and_failed_checks_stand_in_one_list(shop: Shop) -> None:
    """The newest first, by period and cause."""
    run(shop)
    check_id = failed(shop)
    broken = run(shop, "T2", tap_end=TapEnd.BROKEN, broke_at_hole=7, cause=Cause.TOO_FAST)
    listed = incidents(shop.work)
    assert [broken, check_id] == [getattr(one, "run", getattr(one, "check", None)) for one in listed.shown]
    assert (((Cause.TOO_FAST, 1), (Cause.NOT_KNOWN, 0)), {Cause.NOT_KNOWN: 1}) == _by_cause(shop)
    shop.clock.move(days=60)
    assert 0 == incidents(shop.work, Period.MONTH).found
    assert (0, 1) == (failed_checks(shop.work, Period.MONTH.start(shop.clock())).number, len(found(shop)))
    assert 0 == failed_checks(shop.work, None, "another type").number


def _by_cause(shop: Shop) -> tuple[tuple[tuple[Cause, int], ...], dict[Cause, int]]:
    """Breaks and failed checks by cause."""
    listed = incidents(shop.work)
    return listed.by_cause, dict(listed.failed_by_cause)


_STEPS = ("run", "run", "pass", "fail", "regrind", "cancel run", "turn check", "cancel check")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(_STEPS), st.integers(0, 5)), max_size=14))
def test_suspects_are_the_runs_after_the_last_passed_check(sqlite_shop: Shop, steps: list[tuple[str, int]]) -> None:
    """Whatever was logged and changed since: seen from the tap's own page, they are the runs in between."""
    tap = receive_tap(sqlite_shop.work, None, "M8 SP", "bo")
    for step, n in steps:
        _try(sqlite_shop, tap, step, n)
    history = tap_history(sqlite_shop.work, tap)
    checks = [one for one in history.checks if one.change is None]
    good = [one.checked_at for one in checks if one.result is GaugeResult.PASSED]
    good += [one.moved_at for one in history.movements if one.kind is MovementKind.REGROUND and one.change is None]
    for incident in [one for one in found(sqlite_shop) if one.tap == tap]:
        since = max((at for at in good if at < incident.at), default=None)
        between = [one.ended_at for one in history.runs if (since is None or one.ended_at > since)]
        assert sorted(at for at in between if at <= incident.at) == [one.ended_at for one in incident.runs]
    listed = sum(len(one.checks) for one in found(sqlite_shop) if one.tap == tap)
    assert sum(one.result is GaugeResult.FAILED for one in checks) == listed


def _try(shop: Shop, tap: str, step: str, n: int) -> None:
    """Take one step with the tap; what the shop refuses is left out."""
    shop.clock.move(minutes=1)
    history, id_ = tap_history(shop.work, tap), uuid.uuid4()
    checks = [one for one in history.checks if one.change is None]
    at = checks[n % len(checks)] if checks else None
    chosen = at.id if at else uuid.uuid4()
    turned = GaugeResult.PASSED if at and at.result is GaugeResult.FAILED else GaugeResult.FAILED
    actions: dict[str, Callable[[], object]] = {
        "run": lambda: run(shop, tap, holes=10 + n),
        "pass": lambda: passed(shop, tap=tap),
        "fail": lambda: failed(shop, tap=tap),
        "regrind": lambda: move_tap(shop.work, id_, tap, MovementKind.REGROUND, "bo"),
        "cancel run": lambda: cancel_run(shop.work, _a_run(shop, tap, n), *_WHY),
        "turn check": lambda: correct_check(
            shop.work, chosen, CheckChange(id_, turned, at.checked_at if at else shop.clock()), *_WHY
        ),
        "cancel check": lambda: cancel_check(shop.work, chosen, *_WHY),
    }
    try:
        actions[step]()
    except (InputError, LookupError):
        return


def _a_run(shop: Shop, tap: str, n: int) -> uuid.UUID:
    """One of the suspect runs, if there are any."""
    runs = [one.id for incident in found(shop) if incident.tap == tap for one in incident.runs]
    return runs[n % len(runs)] if runs else uuid.uuid4()
