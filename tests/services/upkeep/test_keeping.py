"""Which daily backups are kept, and when the next one is due."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from shopfloor.services.record.work import Work
from shopfloor.services.upkeep.keeping import KeepRule, kept
from shopfloor.services.upkeep.timer import (
    BackupTimer,
    backup_age_s,
    backups_by_the_clock,
    moments,
    remove_half_written,
    state_of_backups,
)
from shopfloor.settings import Settings
from tests.factories import Clock

NOON = datetime(2026, 6, 30, 12, tzinfo=UTC)


def test_days_weeks_and_months_are_kept() -> None:
    """Of 500 days: the last 7, the Sundays of 3 weeks before, and the last day of each of 11 months before."""
    made = [NOON - timedelta(days=number) for number in range(500)]
    days = {NOON - timedelta(days=number) for number in range(7)}
    sundays = {datetime(2026, 6, day, 12, tzinfo=UTC) for day in (28, 21, 14)}
    months = {at for at in made if (at + timedelta(days=1)).day == 1} - {
        at for at in made if at < NOON.replace(2025, 7)
    }
    assert days | sundays | months == kept(made, KeepRule())


def test_the_newest_is_kept_by_every_rule() -> None:
    """Though nothing is asked for; and nothing made is nothing kept."""
    assert {NOON} == kept([NOON, NOON - timedelta(days=1)], KeepRule(0, 0, 0))
    assert set() == kept([], KeepRule())


@pytest.fixture
def work(sqlite_url: str, tmp_path: Path) -> Iterator[Work]:
    """An empty shop at noon, whose backups are made at two."""
    work = Work.on(Settings(database=sqlite_url, data_folder=tmp_path, backup_days=2), Clock(NOON))
    yield work
    work.close()


def test_a_backup_is_made_once_a_day_at_its_time(work: Work, tmp_path: Path) -> None:
    """Not before the first two o'clock, then once; one that was missed is made later; two days' are kept."""
    assert isinstance(work.clock, Clock)
    timer = BackupTimer(work)
    made = []
    for hours in (0, 13.9, 0.2, 1, 22, 2):
        work.clock.move(hours=hours)
        made.append(timer.make_if_due())
    assert [False, False, True, False, False, True] == made
    work.clock.move(days=3)
    assert BackupTimer(work).make_if_due()
    assert 2 == len(moments(tmp_path / "backups"))


def test_only_what_the_clock_made_is_removed(work: Work, tmp_path: Path) -> None:
    """And none of the files beside it."""
    folder = tmp_path / "backups"
    folder.mkdir()
    for name in ("mine.backup", "shopfloor-20200101-020000.backup", "daily-19990101.backup"):
        (folder / name).touch()
    for day in (2, 3, 4, 5):
        (folder / f"daily-202606{day:02}-020000.backup").touch()
    assert isinstance(work.clock, Clock)
    work.clock.move(days=1)
    assert BackupTimer(work).make_if_due()
    left = {path.name for path in folder.iterdir()}
    assert {"mine.backup", "shopfloor-20200101-020000.backup", "daily-19990101.backup"} < left
    assert ["daily-20260605-020000.backup", "daily-20260701-120000.backup"] == sorted(
        name for name in left if name.startswith("daily-2026")
    )


def test_a_failure_is_told_and_tried_again(work: Work, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """In the log and to whoever asks after the server's health, until a backup is made."""
    assert isinstance(work.clock, Clock)
    (tmp_path / "backups").write_text("in the way", encoding="ascii")
    timer = BackupTimer(work)
    timer.start()
    work.clock.move(days=1)
    told = [state_of_backups(work), timer.make_if_due(), state_of_backups(work)]
    assert ["in order", False, "failed"] == told
    assert 1 == len([line for line in caplog.messages if line.startswith("NO BACKUP WAS MADE")])
    (tmp_path / "backups").unlink()
    assert not timer.make_if_due()
    work.clock.move(minutes=15)
    assert (True, "in order") == (timer.make_if_due(), state_of_backups(work))
    timer.stop()


def test_none_is_scheduled_where_no_time_is_given(work: Work) -> None:
    """Nor once the server has ended."""
    with backups_by_the_clock(Work(work.engine, Settings(backup_at=""))):
        assert "not scheduled" == state_of_backups(work)
    with backups_by_the_clock(work):
        assert "in order" == state_of_backups(work)
    assert "not scheduled" == state_of_backups(work)


def test_the_age_is_that_of_the_newest_backup_by_the_clock(work: Work, tmp_path: Path) -> None:
    """Endless where there is none; nobody is alarmed where none is asked for."""
    assert isinstance(work.clock, Clock)
    assert math.inf == backup_age_s(work)
    timer = BackupTimer(work)
    work.clock.move(days=1)
    assert timer.make_if_due()
    work.clock.move(hours=3)
    (tmp_path / "backups" / "shopfloor-20260701-140000.backup").touch()
    assert 3 * 3600 == backup_age_s(work)
    assert math.isnan(backup_age_s(Work(work.engine, Settings(data_folder=tmp_path, backup_at=""), work.clock)))


def test_what_a_dead_server_left_half_written_is_removed(tmp_path: Path) -> None:
    """After a day, when nobody can be at it any more."""
    old, new, folder = (tmp_path / name for name in (".daily-1.half", ".daily-2.half", "shopfloor-backup-x"))
    old.touch()
    new.touch()
    folder.mkdir()
    for path in (old, folder):
        os.utime(path, (0, 0))
    remove_half_written(tmp_path)
    assert [new] == list(tmp_path.iterdir())
