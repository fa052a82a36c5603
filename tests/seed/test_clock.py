"""Working time and the calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seed.clock import SHIFT_SECONDS, Clock, workday, workday_number

ZONE = ZoneInfo("America/Toronto")
DAYS = st.dates(date(2000, 1, 1), date(2090, 1, 1))


@given(DAYS)
def test_a_weekday_is_found_again_by_its_number(day: date) -> None:
    """Numbering weekdays and naming the weekday of a number undo each other; a weekend counts as the Monday after."""
    days_to_monday = (0, 0, 0, 0, 0, 2, 1)[day.weekday()]
    assert day + timedelta(days=days_to_monday) == workday(workday_number(day))


def test_weekdays_are_numbered_without_gaps() -> None:
    """Monday follows Friday."""
    assert 1 == workday_number(date(2026, 11, 30)) - workday_number(date(2026, 11, 27))


@pytest.mark.parametrize(
    ("today", "last"),
    [
        ("2026-11-25T14:30:00-05:00", "2026-11-25T13:35:00-05:00"),
        ("2026-11-25T07:30:00-05:00", "2026-11-24T14:59:59-05:00"),
        ("2026-11-25T23:00:00-05:00", "2026-11-25T14:59:59-05:00"),
        ("2026-11-29T12:00:00-05:00", "2026-11-27T14:59:59-05:00"),
        ("2026-11-30T03:00:00-05:00", "2026-11-27T14:59:59-05:00"),
    ],
    ids=["in the shift", "just begun", "evening", "Sunday", "Monday night"],
)
def test_the_log_ends_in_the_latest_shift(today: str, last: str) -> None:
    """The last working second lies 55 minutes before today, or where the last shift ended."""
    clock = Clock(datetime.fromisoformat(today), ZONE, end_second=1000)
    assert datetime.fromisoformat(last) == clock.at(1000)


@given(st.datetimes(datetime(2001, 1, 1), datetime(2080, 1, 1)), st.integers(0, 400 * SHIFT_SECONDS))
def test_every_working_second_lies_in_a_shift(today: datetime, second: int) -> None:
    """Weekdays from 7:00 to 15:00, shop time, summer and winter."""
    local = Clock(today.replace(tzinfo=UTC), ZONE, 400 * SHIFT_SECONDS).at(second).astimezone(ZONE)
    assert local.weekday() < 5
    assert 7 <= local.hour < 15


@given(st.datetimes(datetime(2001, 1, 1), datetime(2080, 1, 1)), st.integers(0, 400 * SHIFT_SECONDS))
def test_time_never_stands_still(today: datetime, second: int) -> None:
    """A later working second is a later instant."""
    clock = Clock(today.replace(tzinfo=UTC), ZONE, 400 * SHIFT_SECONDS)
    assert clock.at(second) < clock.at(second + 1)


def test_a_slow_tablet_shows_its_own_time_with_its_offset() -> None:
    """Seven minutes late, in the shop's zone."""
    clock = Clock(datetime(2026, 7, 1, 20, tzinfo=UTC), ZONE, 1000)
    assert "2026-07-01T14:23:00-04:00" == clock.device_time(datetime(2026, 7, 1, 18, 30, tzinfo=UTC), 420)
