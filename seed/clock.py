"""Working time: seconds on shift since the log began, mapped to the calendar so that they end near today.

Counting in working time gives every reference date the same history: only the dates move.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

SHIFT_SECONDS = 8 * 3600
WORKDAYS_A_WEEK = 5
WORKDAYS_A_MONTH = 261 / 12
QUIET_BEFORE_TODAY = timedelta(minutes=55)
_SHIFT_STARTS = time(7, 0)
_DAYS_A_WEEK = 7


def workday_number(day: date) -> int:
    """How many weekdays lie before `day` since Monday 1 January of year 1; a weekend counts as the Monday after."""
    weeks, weekday = divmod(day.toordinal() - 1, _DAYS_A_WEEK)
    return weeks * WORKDAYS_A_WEEK + min(weekday, WORKDAYS_A_WEEK)


def workday(number: int) -> date:
    """The weekday with that number; the inverse of `workday_number`."""
    weeks, weekday = divmod(number, WORKDAYS_A_WEEK)
    return date.fromordinal(weeks * _DAYS_A_WEEK + weekday + 1)


class Clock:
    """Turns working seconds into UTC; `end_second` falls about an hour before `today`, or at the last shift's end."""

    def __init__(self, today: datetime, zone: ZoneInfo, end_second: int) -> None:
        self.zone = zone
        self.end_second = end_second
        self.today_on = today.astimezone(zone).date()
        self._last = _last_working_moment(today.astimezone(zone) - QUIET_BEFORE_TODAY)

    def at(self, second: float) -> datetime:
        """The UTC instant of a working second; past the end, time simply runs on."""
        number, offset = self._last
        over = max(0.0, second - self.end_second)
        total = number * SHIFT_SECONDS + offset - self.end_second + min(second, self.end_second)
        workdays, seconds = divmod(int(total), SHIFT_SECONDS)
        local = datetime.combine(workday(workdays), _SHIFT_STARTS, self.zone) + timedelta(seconds=seconds)
        return local.astimezone(UTC) + timedelta(seconds=int(over))

    def device_time(self, at: datetime, slow_seconds: int = 0) -> str:
        """What a tablet's clock shows at `at`, with its offset, when it runs late by `slow_seconds`."""
        return (at - timedelta(seconds=slow_seconds)).astimezone(self.zone).isoformat(timespec="seconds")

    def day_after(self, workdays: int) -> date:
        """The weekday that many weekdays after today."""
        return workday(workday_number(self.today_on) + workdays)


def _last_working_moment(local: datetime) -> tuple[int, int]:
    """(workday number, second of the shift) of the latest working moment up to `local`."""
    number = workday_number(local.date())
    seconds = int((local - datetime.combine(local.date(), _SHIFT_STARTS, local.tzinfo)).total_seconds())
    if local.weekday() >= WORKDAYS_A_WEEK or seconds <= 0:
        return number - 1, SHIFT_SECONDS - 1
    return number, min(seconds, SHIFT_SECONDS - 1)
