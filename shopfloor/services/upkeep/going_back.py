"""What a migration leaves behind to go back by: a backup from before it, and what the tables held after it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import text

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.upkeep.archive import DATABASE, contents_from
from shopfloor.services.upkeep.contents import Contents, contents, differing
from shopfloor.services.upkeep.copies import one_state
from shopfloor.services.upkeep.making import ENDING, MadeBackup, back_up, stamped
from shopfloor.services.upkeep.passphrases import passphrase_in
from shopfloor.services.upkeep.restoring import must_be_known, opened, restore_database
from shopfloor.settings import Settings
from shopfloor.store import (
    CribStock,
    DailyOutput,
    EstimateGeneration,
    EstimatePart,
    EstimatorLease,
    GaugeFailure,
    LifeStretch,
    MarkedInCrib,
    TapLife,
    TotalOutput,
)
from shopfloor.store.engine import sqlite_file
from shopfloor.store.upgrade import downgrade, head, must_be_there, revision_of

DERIVED = frozenset(
    table.__tablename__
    for table in (
        LifeStretch, TapLife, GaugeFailure, DailyOutput, TotalOutput, CribStock, MarkedInCrib, EstimateGeneration,
        EstimatePart, EstimatorLease,
    )
)  # fmt: skip
"""Tables that are worked out from the others: a difference in them loses nothing."""

_BEFORE, _AFTER = "before-upgrade", ".after.json"
_LEFT = "before-going-back"


@dataclass(frozen=True)
class WayBack:
    """A backup from before a migration, and the schema and contents of the database right after it."""

    backup: Path
    schema: str
    after: Contents


def back_up_before_upgrade(settings: Settings, now: datetime) -> MadeBackup | None:
    """Make a backup if the database is to be migrated; None where it is new, or as this version wants it."""
    path = sqlite_file(settings.database)
    if path is not None and not path.exists():
        return None
    with one_state(settings.database) as connection:
        revision = revision_of(connection)
    return None if revision in (None, head()) else _keep(settings, _BEFORE, now)


def note_after_upgrade(settings: Settings, made: MadeBackup) -> None:
    """Write down beside the backup what the database holds now, so that going back can tell what has come since."""
    schema, after = _present(settings)
    tables = {name: asdict(content) for name, content in after.items()}
    _note(made.path).write_text(json.dumps({"schema": schema, "tables": tables}), encoding="utf-8")


def way_back(settings: Settings) -> WayBack:
    """The backup from before the last migration of this database.

    Raises
    ------
    InputError    there is none
    """
    must_be_there(settings.database)
    schema, _ = _present(settings)
    for path in sorted(settings.backup_folder.glob(f"{_BEFORE}-*{ENDING}"), reverse=True):
        if _note(path).exists():
            told = json.loads(_note(path).read_text(encoding="utf-8"))
            if told["schema"] == schema:
                return WayBack(path, schema, contents_from(told["tables"]))
    what = phrase(
        "no backup from before an upgrade to {schema} is in '{folder}'",
        schema=schema,
        folder=str(settings.backup_folder),
    )
    raise InputError.of("back", what, "restore another backup into an empty database")


def recorded_since(settings: Settings, way: WayBack) -> list[str]:
    """Tables in which something was recorded after the migration."""
    _, now = _present(settings)
    return [name for name in differing(now, way.after) if name not in DERIVED]


def go_back(settings: Settings, way: WayBack, now: datetime) -> MadeBackup:
    """Put the database from before the migration in place of the present one, of which a backup is made first.

    Photographs and secret key stay: nothing of them changes with a schema.

    Raises
    ------
    InputError    a server still uses the database, or one of the two backups cannot be used
    """
    with opened(way.backup, passphrase_in(settings.backup_passphrase_file)) as backup:
        must_be_known(backup.manifest)
        if (backup.folder / DATABASE).exists() != (sqlite_file(settings.database) is not None):
            raise InputError.of("database", "it is of another kind than the backup", "check its address")
        _must_be_alone(settings.database)
        left = _keep(settings, _LEFT, now)
        path = sqlite_file(settings.database)
        if path is None:
            downgrade(settings.database, "base")
        else:
            _must_be_alone(settings.database)
        restore_database(backup, settings.database)
    return left


def _keep(settings: Settings, prefix: str, now: datetime) -> MadeBackup:
    settings.backup_folder.mkdir(parents=True, exist_ok=True)
    passphrase = passphrase_in(settings.backup_passphrase_file)
    return back_up(settings, settings.backup_folder / stamped(prefix, now), now, passphrase)


def _note(backup: Path) -> Path:
    return backup.with_name(backup.name + _AFTER)


def _present(settings: Settings) -> tuple[str, Contents]:
    with one_state(settings.database) as connection:
        return str(revision_of(connection)), contents(connection)


def _must_be_alone(url: str) -> None:
    """Refuse while somebody else has the database open; of SQLite, bring all of it into the one file."""
    path = sqlite_file(url)
    if path is None:
        with one_state(url) as connection:
            mine = "datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            others = connection.execute(text(f"SELECT count(*) FROM pg_stat_activity WHERE {mine}")).scalar_one()  # noqa: S608 - no input
        if others:
            raise _in_use()
        return
    with closing(sqlite3.connect(path, timeout=1)) as connection:
        try:
            # Only who is alone with a file may leave the write-ahead log.
            connection.execute("PRAGMA journal_mode=DELETE")
        except sqlite3.OperationalError:
            raise _in_use() from None


def _in_use() -> InputError:
    return InputError.of("database", "a server or another program has it open", "stop it first")
