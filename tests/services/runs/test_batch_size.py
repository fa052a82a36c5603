"""How many holes come next."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import pytest

from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.runs.batch_size import Portion, Why, as_made, offered_portion, rest_of_batch
from tests.batch_rules import MADE

LARGEST = 5000


def run(holes: int, end: TapEnd, broke_at: int | None = None) -> RunEntry:
    """A run as entered."""
    now = datetime(2026, 6, 1, tzinfo=UTC)
    return RunEntry(uuid.uuid4(), now, tap="T1", rpm=250, holes=holes, tap_end=end, broke_at_hole=broke_at)


@pytest.mark.parametrize(
    ("last", "left", "expected"),
    [
        (48, None, Portion(48, Why.LAST_TIME)),
        (48, 720, Portion(48, Why.LAST_TIME)),
        (48, 12, Portion(12, Why.LEFT_ON_JOB)),
        (None, 120, Portion(120, Why.LEFT_ON_JOB)),
        (None, 14_032, None),
        (48, 0, Portion(48, Why.LAST_TIME)),
        (None, -5, None),
        (None, None, None),
    ],
)
def test_the_offer_is_the_last_batch_or_what_the_job_still_wants(
    last: int | None, left: int | None, expected: Portion | None
) -> None:
    """The last batch, unless fewer are left; what is left, where it is one batch; else nothing."""
    assert expected == offered_portion(last, left, LARGEST)


@pytest.mark.parametrize(("typed", "offered", "made", "rest"), MADE)
def test_a_tap_made_the_holes_up_to_its_break_and_left_the_rest(
    typed: dict[str, str], offered: int | None, made: int, rest: int | None
) -> None:
    """Where the hole of the break is not known, the run keeps the upper limit, and nobody knows the rest."""
    at = typed.get("broke_at_hole")
    ends = {end.value: end for end in TapEnd}
    entered = run(int(typed["holes"]), ends[typed["tap_end"]], int(at) if at else None)
    assert (made, rest) == (as_made(entered).holes, rest_of_batch(entered, offered))
