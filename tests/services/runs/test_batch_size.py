"""How many holes come next."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import pytest

from shopfloor.core.input.run_entry import RunEntry
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.runs.batch_size import Portion, Why, as_made, offered_portion, rest_of_batch

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


@pytest.mark.parametrize(
    ("entered", "offered", "rest"),
    [
        (run(48, TapEnd.BROKEN, 27), 48, 21),
        (run(40, TapEnd.BROKEN, 27), 48, 13),
        (run(27, TapEnd.BROKEN, 27), 48, 21),
        (run(48, TapEnd.BROKEN, 48), 48, 0),
        (run(48, TapEnd.BROKEN), 48, None),
        (run(30, TapEnd.WORN), 48, 18),
        (run(48, TapEnd.WORN), 48, 0),
        (run(60, TapEnd.RETIRED_EARLY), 48, 0),
        (run(30, TapEnd.CHIPPED), None, 0),
    ],
)
def test_the_rest_is_what_the_failed_tap_left(entered: RunEntry, offered: int | None, rest: int | None) -> None:
    """The batch less the holes made; not known where the hole of the break is not."""
    assert rest == rest_of_batch(entered, offered)


def test_a_broken_tap_made_the_holes_up_to_the_break() -> None:
    """Of a batch of 48 that broke at 27 the run keeps 27; a break at an unknown hole keeps the upper limit."""
    assert (27, 48, 48) == (
        as_made(run(48, TapEnd.BROKEN, 27)).holes,
        as_made(run(48, TapEnd.BROKEN)).holes,
        as_made(run(48, TapEnd.STILL_GOOD)).holes,
    )
