"""Bring a backup back into an empty database, and check one by doing so in a folder that is thrown away."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.upkeep.archive import DATABASE, KEY, PHOTOGRAPHS, SCRATCH, BackupManifest, unpack
from shopfloor.services.upkeep.contents import contents, differing
from shopfloor.services.upkeep.copies import copy_in, one_state
from shopfloor.settings import Settings
from shopfloor.store.engine import make_engine, sqlite_file
from shopfloor.store.picture_folder import picture_folder
from shopfloor.store.upgrade import downgrade, is_empty, knows, upgrade

_LEFT_BEHIND = ("-wal", "-shm", "-journal")


@dataclass(frozen=True)
class OpenedBackup:
    """A backup whose files lie unpacked in a folder, each as it was written."""

    manifest: BackupManifest
    folder: Path


@contextmanager
def opened(path: Path, passphrase: bytes | None, near: Path | None = None) -> Iterator[OpenedBackup]:
    """Unpack a backup into a folder that is thrown away at the end, by default the system's for such files."""
    with tempfile.TemporaryDirectory(prefix=SCRATCH, dir=near) as scratch:
        yield OpenedBackup(unpack(path, Path(scratch), passphrase), Path(scratch))


def check_backup(path: Path, passphrase: bytes | None, near: Path | None = None) -> None:
    """Read a backup as `restore` does: every file whole and, of SQLite, every table equal to what was copied.

    Raises
    ------
    InputError    it cannot be brought back
    """
    with opened(path, passphrase, near) as backup:
        if backup.manifest.kind == "sqlite":
            _must_be_equal(backup, f"sqlite:///{(backup.folder / DATABASE).as_posix()}")


def restore(path: Path, settings: Settings, passphrase: bytes | None = None) -> BackupManifest:
    """Bring back database, photographs and secret key, where none of them is yet; an equal key stays.

    Raises
    ------
    InputError    the target is not empty, or the backup cannot be used; nothing has changed then
    """
    with opened(path, passphrase) as backup:
        _must_fit(backup, settings)
        undo: list[Callable[[], None]] = []
        try:
            _put_beside_database(backup, settings, undo)
            restore_database(backup, settings.database)
        except OSError as error:
            _undo(undo)
            raise InputError.of(
                "restore", phrase("it cannot be written ({why})", why=str(error.strerror)), "make room"
            ) from None
        except BaseException:
            _undo(undo)
            raise
    return backup.manifest


def restore_database(backup: OpenedBackup, url: str) -> None:
    """Bring back the database alone, into an empty one, and compare it table by table with what was copied."""
    path = sqlite_file(url)
    if path is None:
        _fill_server(backup, url)
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    half = path.with_name(f".{path.name}.{uuid.uuid4().hex}.half")
    try:
        shutil.copyfile(backup.folder / DATABASE, half)
        _must_be_equal(backup, f"sqlite:///{half.as_posix()}")
        _settle(half)
        half.replace(path)
    finally:
        for ending in ("", *_LEFT_BEHIND):
            half.with_name(half.name + ending).unlink(missing_ok=True)


def must_be_known(manifest: BackupManifest) -> None:
    """Refuse a backup whose schema this version has never heard of.

    Raises
    ------
    InputError    it comes from a newer version
    """
    if not knows(manifest.schema):
        what = phrase(
            "its schema {schema} is newer than this version's (made by version {version})",
            schema=manifest.schema,
            version=manifest.version,
        )
        raise InputError.of("backup", what, "install that version or a newer one")


def _fill_server(backup: OpenedBackup, url: str) -> None:
    upgrade(url, backup.manifest.schema)
    engine = make_engine(url)
    try:
        copy_in(engine, backup.folder)
        _must_be_equal(backup, url)
    except BaseException:
        downgrade(url, "base")
        raise
    finally:
        engine.dispose()


def _must_be_equal(backup: OpenedBackup, url: str) -> None:
    with one_state(url) as connection:
        differ = differing(contents(connection), backup.manifest.tables)
    if differ:
        raise InputError.of(
            "backup",
            phrase("these tables differ from the record: {tables}", tables=", ".join(differ)),
            "take another one",
        )


def _settle(path: Path) -> None:
    """Leave nothing of the file in a -wal beside it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")


def _must_fit(backup: OpenedBackup, settings: Settings) -> None:
    must_be_known(backup.manifest)
    path = sqlite_file(settings.database)
    kind = "postgresql" if path is None else "sqlite"
    if backup.manifest.kind != kind:
        what = phrase("the backup is of {there}, the database is {here}", there=backup.manifest.kind, here=kind)
        raise InputError.of("database", what, "name a database of the same kind")
    if path is not None:
        _must_lie_alone(path)
    _must_be_empty(settings.database, path)
    pictures = picture_folder(settings)
    if pictures.is_dir() and any(pictures.iterdir()):
        raise InputError.of(
            "photographs", phrase("the folder '{path}' is not empty", path=str(pictures)), "name an empty one"
        )
    _must_have_equal_key(backup, settings)


def _must_lie_alone(path: Path) -> None:
    for ending in _LEFT_BEHIND:
        left = path.with_name(path.name + ending)
        if left.exists():
            what = phrase("'{path}' lies there: left by another server, or one still runs", path=str(left))
            raise InputError.of("database", what, "stop the server; move the old database and this file away")


def _must_be_empty(url: str, path: Path | None) -> None:
    if path is not None and not path.exists():
        return
    if path is not None and path.stat().st_size:
        raise InputError.of(
            "database", phrase("'{path}' is not empty", path=str(path)), "name a new file, or move this one away"
        )
    engine = make_engine(url)
    try:
        if path is None and not is_empty(engine):
            raise InputError.of("database", "it is not empty", "name a database without tables")
    finally:
        engine.dispose()


def _must_have_equal_key(backup: OpenedBackup, settings: Settings) -> None:
    key = backup.folder / KEY
    if key.exists() and settings.key_file.exists() and key.read_bytes() != settings.key_file.read_bytes():
        raise InputError.of(
            "secret key", phrase("another one is in '{path}'", path=str(settings.key_file)), "move it away first"
        )


def _put_beside_database(backup: OpenedBackup, settings: Settings, undo: list[Callable[[], None]]) -> None:
    """Photographs and key come first: a database that is there has all that it names."""
    key, kept = backup.folder / KEY, settings.key_file
    if key.exists() and not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.touch(mode=0o600)
        undo.append(lambda: kept.unlink(missing_ok=True))
        kept.write_bytes(key.read_bytes())
    pictures = backup.folder / PHOTOGRAPHS
    if pictures.is_dir():
        target = picture_folder(settings)
        undo.append(lambda: _empty(target))
        shutil.copytree(pictures, target, dirs_exist_ok=True)


def _empty(folder: Path) -> None:
    for path in folder.glob("*.jpg"):
        path.unlink()
    with suppress(OSError):
        folder.rmdir()


def _undo(steps: list[Callable[[], None]]) -> None:
    for step in reversed(steps):
        step()
