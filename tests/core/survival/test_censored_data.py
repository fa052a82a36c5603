from __future__ import annotations

import math
from typing import Any

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.survival.censored_data import Evidence, Lives

INF = math.inf

# The table of kinds: exact, interval, right-censored, left-truncated (common practice, no source).
LIVES = Lives.of(
    [447, 410, 300, 260, 380],
    [447, 460, 350, INF, 380],
    entry=[0, 0, 0, 0, 150],
    mode=["break", "break", "wear", None, "break"],
    count=[1, 1, 1, 2, 1],
)


def test_counts_stand_for_lives() -> None:
    """A row with a count is that many lives."""
    assert (6, 4) == (LIVES.lives, LIVES.failures)
    assert 5 == len(LIVES)


def test_holes_run_from_entry_to_the_last_look() -> None:
    """Exposure of an interval failure goes to its upper end, of a survivor to its age, each from entry."""
    assert 447 + 460 + 350 + 2 * 260 + (380 - 150) == LIVES.holes


def test_evidence_of_groups_adds_up() -> None:
    """Taps, failures and holes of several groups together."""
    assert Evidence(12, 8, 2 * LIVES.holes) == Evidence.total([LIVES.evidence, LIVES.evidence])
    assert Evidence(0, 0, 0.0) == Evidence.total([])


def test_modes_are_listed_once() -> None:
    """Only modes that occur, sorted."""
    assert ["break", "wear"] == LIVES.modes()


def test_another_mode_is_survival_until_then() -> None:
    """Seen for wear, an exact break survived to its age and an interval break to its lower end."""
    wear = LIVES.of_mode("wear")
    assert [447, 410, 300, 260, 380] == wear.lower.tolist()
    assert [INF, INF, 350, INF, INF] == wear.upper.tolist()
    assert ["", "", "wear", "", ""] == wear.mode.tolist()
    assert 1 == wear.failures


def test_modes_together_are_all_failures() -> None:
    """Each failure counts in exactly one mode."""
    assert LIVES.failures == sum(LIVES.of_mode(mode).failures for mode in LIVES.modes())


@pytest.mark.parametrize(
    ("field", "columns"),
    [
        ("lower", {"lower": [-1]}),
        ("lower", {"lower": [math.nan]}),
        ("lower", {"lower": [INF]}),
        ("lower", {"lower": [1e16]}),
        ("lower", {"lower": [0], "upper": [0]}),
        ("upper", {"upper": [math.nan]}),
        ("upper", {"upper": [99]}),
        ("upper", {"upper": [1e16]}),
        ("entry", {"entry": [-1]}),
        ("entry", {"entry": [math.nan]}),
        ("entry", {"entry": [101]}),
        ("entry", {"entry": [100]}),
        ("mode", {"upper": [INF], "mode": ["break"]}),
        ("count", {"count": [0]}),
        ("count", {"count": [1.5]}),
        ("count", {"count": [math.nan]}),
        ("count", {"count": [INF]}),
        ("entry", {"entry": [1, 2]}),
        ("mode", {"mode": ["break", "wear"]}),
        ("lower", {"lower": ["many"]}),
        ("lower", {"lower": [[1]]}),
    ],
)
def test_what_cannot_be_is_refused_by_name(field: str, columns: dict[str, Any]) -> None:
    """One bad value: the error names its column."""
    with pytest.raises(InputError) as error:
        Lives.of(**({"lower": [100], "upper": [100]} | columns))
    assert field in {problem.field for problem in error.value.problems}


def test_each_bad_row_is_named() -> None:
    """All problems come at once, with their rows."""
    with pytest.raises(InputError) as error:
        Lives.of([1, -1, 5], [1, INF, 4])
    assert {("lower", 1), ("upper", 2)} == {(problem.field, problem.row) for problem in error.value.problems}


def test_a_failure_without_mode_beside_others_with_one_is_refused() -> None:
    """It could be any mode, and would count as survival for each."""
    with pytest.raises(InputError, match="no mode"):
        Lives.of([1, 2], [1, 2], mode=["break", ""])


def test_no_lives_at_all_are_lives() -> None:
    """An empty table is allowed: nothing is known yet."""
    assert Evidence(0, 0, 0.0) == Lives.of([], []).evidence
