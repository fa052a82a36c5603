"""A run as entered at a station: stricter about a break than other entry points, and corrected for a reason."""

from __future__ import annotations

from collections.abc import Mapping

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.input.run_entry import EntryLimits, RunEntry, read_run
from shopfloor.core.input.signature import read_reason
from shopfloor.core.vocabulary import TapEnd


def read_station_run(raw: Mapping[str, object], limits: EntryLimits) -> RunEntry:
    """The run as entered; for a broken tap, the hole must be given, or that nobody knows it ('hole_not_known').

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    problems = _hole_problems(raw)
    try:
        entry = read_run(_without_incident(raw), limits)
    except InputError as error:
        raise InputError([*error.problems, *problems]) from None
    if problems:
        raise InputError(problems)
    return entry


def read_correction(raw: Mapping[str, object], limits: EntryLimits) -> tuple[RunEntry, str]:
    """The run as it should have been entered, and the 'reason' for correcting it.

    Raises
    ------
    InputError    every problem found, each naming its field
    """
    try:
        entry = read_station_run(raw, limits)
    except InputError as error:
        raise InputError([*error.problems, *_reason_problems(raw)]) from None
    return entry, read_reason(raw)


def _reason_problems(raw: Mapping[str, object]) -> tuple[Problem, ...]:
    try:
        read_reason(raw)
    except InputError as error:
        return error.problems
    return ()


def _hole_problems(raw: Mapping[str, object]) -> list[Problem]:
    """Whether a broken tap's hole is given in exactly one way."""
    if raw.get("tap_end") != TapEnd.BROKEN.value:
        return []
    is_given, is_unknown = bool(str(raw.get("broke_at_hole") or "").strip()), bool(raw.get("hole_not_known"))
    if is_given == is_unknown:
        what = "a hole is given and 'Not known' is chosen" if is_given else "it is missing"
        return [Problem("broke_at_hole", what, "give the hole, or choose 'Not known'")]
    return []


def _without_incident(raw: Mapping[str, object]) -> dict[str, object]:
    """What was entered, without the fate and cause of a break that was chosen and then deselected."""
    incident = () if raw.get("tap_end") == TapEnd.BROKEN.value else ("part_fate", "cause")
    return {name: value for name, value in raw.items() if name not in (*incident, "hole_not_known")}
