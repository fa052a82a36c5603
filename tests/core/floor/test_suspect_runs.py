"""Runs in doubt after a failed gauge check."""

from __future__ import annotations

import uuid
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.floor.suspect_runs import EventKind, Moment, Since, Suspicion, suspicions
from tests.factories import NOON


def log(*kinds: EventKind) -> list[Moment]:
    """What happened to a tap, an hour apart."""
    return [Moment(NOON + timedelta(hours=n), kind, uuid.UUID(int=n)) for n, kind in enumerate(kinds)]


def short(found: list[Suspicion]) -> list[tuple[int, Since, list[int], int]]:
    """Check, start, runs by their place in the log, and how often it failed again."""
    return [(one.check.int, one.start, [run.int for run in one.runs], len(one.again)) for one in found]


def test_all_runs_of_a_tap_that_never_passed() -> None:
    """Since it was new."""
    assert [(2, Since.NEW, [0, 1], 0)] == short(suspicions(log(EventKind.RUN, EventKind.RUN, EventKind.FAILED)))


def test_only_the_runs_since_the_last_check_that_passed() -> None:
    """The earlier ones were gauged."""
    moments = log(
        EventKind.RUN, EventKind.PASSED, EventKind.RUN, EventKind.PASSED, EventKind.RUN, EventKind.RUN, EventKind.FAILED
    )
    (found,) = suspicions(moments)
    assert (6, Since.PASSED, [4, 5], 0) == short([found])[0]
    assert NOON + timedelta(hours=3) == found.since


def test_a_regrind_begins_anew() -> None:
    """What the tap cut before it was ground says nothing of how it cuts now."""
    assert [(3, Since.REGROUND, [2], 0)] == short(
        suspicions(log(EventKind.RUN, EventKind.REGROUND, EventKind.RUN, EventKind.FAILED))
    )


def test_a_check_that_fails_again_is_no_second_incident() -> None:
    """Six times the same answer is one incident; a run or a passed check in between makes two."""
    again = [EventKind.FAILED] * 6
    assert [(1, Since.NEW, [0], 5)] == short(suspicions(log(EventKind.RUN, *again)))
    two = suspicions(
        log(EventKind.RUN, EventKind.FAILED, EventKind.PASSED, EventKind.FAILED, EventKind.RUN, EventKind.FAILED)
    )
    assert [(1, Since.NEW, [0], 0), (3, Since.PASSED, [], 0), (5, Since.PASSED, [4], 0)] == short(two)


def test_a_run_of_the_instant_of_a_check_came_before_it() -> None:
    """As in the tap's lives: the thread that was gauged is that of the run just ended."""
    at_once = [Moment(NOON, kind, uuid.UUID(int=kind)) for kind in (EventKind.FAILED, EventKind.RUN)]
    assert [(EventKind.FAILED, Since.NEW, [EventKind.RUN], 0)] == short(suspicions(at_once))


@given(st.lists(st.tuples(st.integers(0, 9), st.sampled_from(EventKind)), max_size=20))
def test_suspect_are_exactly_the_runs_after_the_last_good_moment(drawn: list[tuple[int, EventKind]]) -> None:
    """The obvious way: for each failed check look back over all that there is."""
    moments = [Moment(NOON + timedelta(hours=hour), kind, uuid.uuid4(), n) for n, (hour, kind) in enumerate(drawn)]

    def place(one: Moment) -> tuple[object, ...]:
        return one.at, one.kind, one.position

    expected = {}
    for failed in (one for one in moments if one.kind is EventKind.FAILED):
        before = [one for one in moments if place(one) < place(failed)]
        good = max((place(one) for one in before if one.kind in (EventKind.PASSED, EventKind.REGROUND)), default=())
        expected[failed.id] = {one.id for one in before if one.kind is EventKind.RUN and place(one) > good}
    found = {id_: set(one.runs) for one in suspicions(moments) for id_ in (one.check, *one.again)}
    assert expected == found
