"""Backups by the clock, made by the server itself: every day at the time that the settings say."""

from __future__ import annotations

import logging
import math
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from weakref import WeakKeyDictionary

from sqlalchemy import Engine

from shopfloor.core.errors import InputError
from shopfloor.services.record.work import Work
from shopfloor.services.upkeep.archive import SCRATCH
from shopfloor.services.upkeep.keeping import KeepRule, kept
from shopfloor.services.upkeep.making import ENDING, back_up, stamped
from shopfloor.services.upkeep.passphrases import passphrase_in
from shopfloor.settings import Settings

_PREFIX = "daily"
_LOOK_EVERY_S = 30
_AGAIN_AFTER = timedelta(minutes=15)

_log = logging.getLogger(__name__)


@dataclass
class BackupTimer:
    """Makes a backup when one is due, and knows whether the last one failed."""

    work: Work
    has_failed: bool = False
    _begun: datetime = field(init=False)
    _not_before: datetime = field(init=False)
    _stopped: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self._begun = self._not_before = self.work.clock()

    def start(self) -> None:
        """Look at the clock from now on, in a thread of its own; until `stop`."""
        _timers[self.work.engine] = self
        threading.Thread(target=self._look, name="backups", daemon=True).start()

    def stop(self) -> None:
        """Make no further backup."""
        self._stopped.set()
        _timers.pop(self.work.engine, None)

    def make_if_due(self) -> bool:
        """Whether one was due, and has been made; a failure is logged and tried again a quarter of an hour later."""
        now = self.work.clock()
        if now < self._not_before or not is_due(self.work.settings, now, self._begun):
            return False
        try:
            self._make(now)
        except Exception as error:  # noqa: BLE001 - whatever it is, the server goes on and says that there is no backup
            self.has_failed, self._not_before = True, now + _AGAIN_AFTER
            _log.error("NO BACKUP WAS MADE: %s", error if isinstance(error, InputError) else type(error).__name__)
            return False
        self.has_failed = False
        return True

    def _make(self, now: datetime) -> None:
        settings = self.work.settings
        folder = settings.backup_folder
        folder.mkdir(parents=True, exist_ok=True)
        remove_half_written(folder)
        made = back_up(settings, folder / stamped(_PREFIX, now), now, passphrase_in(settings.backup_passphrase_file))
        _log.info("backup made: %s", made.path.name)
        if made.manifest.missing_photographs:
            _log.warning("photographs missing on disk: %d", made.manifest.missing_photographs)
        remove_old(folder, KeepRule(settings.backup_days, settings.backup_weeks, settings.backup_months))

    def _look(self) -> None:
        while not self._stopped.wait(_LOOK_EVERY_S):
            self.make_if_due()


_timers: WeakKeyDictionary[Engine, BackupTimer] = WeakKeyDictionary()


@contextmanager
def backups_by_the_clock(work: Work) -> Iterator[None]:
    """Within this context backups are made each day, if the settings ask for it."""
    if not work.settings.backup_at:
        yield
        return
    timer = BackupTimer(work)
    timer.start()
    try:
        yield
    finally:
        timer.stop()


def state_of_backups(work: Work) -> str:
    """For the health check: whether the last backup by the clock was made, failed, or none is asked for."""
    timer = _timers.get(work.engine)
    if timer is None:
        return "not scheduled"
    return "failed" if timer.has_failed else "in order"


def backup_age_s(work: Work) -> float:
    """Seconds since the newest backup by the clock; infinite where none is there, not a number where none is asked for.

    By the files that are there, not by what this server remembers: it may have begun just now.
    """
    if not work.settings.backup_at:
        return math.nan
    newest = max(moments(work.settings.backup_folder), default=None)
    return math.inf if newest is None else max(0.0, (work.clock() - newest).total_seconds())


def is_due(settings: Settings, now: datetime, begun: datetime) -> bool:
    """Whether the day's time has passed since the newest backup; without any, since the server began."""
    newest = max(moments(settings.backup_folder), default=begun)
    return newest < _last_time(settings, now)


def moments(folder: Path) -> dict[datetime, Path]:
    """The backups that were made by the clock, by when they were."""
    found = {}
    for path in folder.glob(f"{_PREFIX}-*{ENDING}"):
        with suppress(ValueError):
            found[datetime.strptime(path.stem + "+0000", f"{_PREFIX}-%Y%m%d-%H%M%S%z")] = path
    return found


def remove_old(folder: Path, rule: KeepRule) -> None:
    """Remove the backups made by the clock that the rule does not keep; no other file is touched."""
    made = moments(folder)
    stay = kept(made, rule)
    for at, path in made.items():
        if at not in stay:
            path.unlink(missing_ok=True)


def remove_half_written(folder: Path) -> None:
    """Remove what a server that died during its backup left in the folder, once it is a day old."""
    a_day_ago = datetime.now(UTC).timestamp() - timedelta(days=1).total_seconds()
    for path in [*folder.glob(f".{_PREFIX}-*.half"), *folder.glob(f"{SCRATCH}*")]:
        if path.stat().st_mtime < a_day_ago:
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def _last_time(settings: Settings, now: datetime) -> datetime:
    """The last moment at which a backup was to be made."""
    here = now.astimezone(settings.zone)
    at = datetime.combine(here.date(), time.fromisoformat(settings.backup_at), settings.zone)
    return at if at <= here else at - timedelta(days=1)
