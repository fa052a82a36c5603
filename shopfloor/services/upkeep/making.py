"""Make a backup of a shop while its server runs."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, inspect, text

import shopfloor
from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.upkeep.archive import KEY, PHOTOGRAPHS, SCRATCH, BackupManifest, pack
from shopfloor.services.upkeep.contents import contents
from shopfloor.services.upkeep.copies import copy_out, one_state
from shopfloor.services.upkeep.restoring import check_backup
from shopfloor.services.upkeep.sealing import seal
from shopfloor.settings import Settings
from shopfloor.store.picture_folder import picture_folder
from shopfloor.store.upgrade import must_be_there, revision_of

ENDING = ".backup"
_STAMP = "%Y%m%d-%H%M%S"


@dataclass(frozen=True)
class MadeBackup:
    """A backup that was made and checked."""

    path: Path
    manifest: BackupManifest


def stamped(prefix: str, now: datetime) -> str:
    """Name of a backup made now."""
    return f"{prefix}-{now:{_STAMP}}{ENDING}"


def back_up(settings: Settings, to: Path, now: datetime, passphrase: bytes | None = None) -> MadeBackup:
    """Write database, photographs and secret key into one new file; in a folder, under the name of the moment.

    The file is read again, its database restored and compared before it gets its name, so that none is half there.

    Parameters
    ----------
    settings      the shop
    to            a file that does not exist yet, or a folder
    now           when this is
    passphrase    with which to encrypt it; None: not at all

    Raises
    ------
    InputError    there is no record, the target exists or cannot be written, or the copy is not equal
    """
    must_be_there(settings.database)
    target = to / stamped("shopfloor", now) if to.is_dir() else to
    if target.exists():
        raise InputError.of("backup", phrase("'{path}' exists", path=str(target)), "name a new file, or a folder")
    try:
        with _half_written(target) as half:
            manifest = _write(settings, half, now, passphrase)
            half.rename(target)
    except OSError as error:
        what, remedy = (
            phrase("'{path}' cannot be written ({why})", path=str(target), why=str(error.strerror)),
            "make room or name another folder",
        )
        raise InputError.of("backup", what, remedy) from None
    except sqlite3.Error as error:
        raise InputError.of(
            "backup", phrase("the copy cannot be written ({why})", why=str(error)), "make room or name another folder"
        ) from None
    return MadeBackup(target, manifest)


@contextmanager
def _half_written(target: Path) -> Iterator[Path]:
    """Where a file is written until it is whole: beside its place, under another name."""
    half = target.with_name(f".{target.name}.{uuid.uuid4().hex}.half")
    try:
        yield half
    finally:
        half.unlink(missing_ok=True)


def _write(settings: Settings, half: Path, now: datetime, passphrase: bytes | None) -> BackupManifest:
    # What is to be encrypted must not lie in plain view on the disk that it goes to.
    near = half.parent if passphrase is None else None
    with tempfile.TemporaryDirectory(prefix=SCRATCH, dir=near) as scratch:
        folder = Path(scratch)
        with one_state(settings.database) as connection:
            begun = _begun(connection, now)
            needed = _photographs_on_record(connection)
            members = copy_out(connection, folder)
        pictures = _pictures(settings)
        members |= pictures | _key(settings)
        missing = len(needed - {Path(name).stem for name in pictures})
        begun = BackupManifest(**{**vars(begun), "missing_photographs": missing})
        packed = folder / "packed.zip"
        manifest = pack(begun, members, packed)
        _put(packed, half, passphrase)
    check_backup(half, passphrase, near=near)
    return manifest


def _begun(connection: Connection, now: datetime) -> BackupManifest:
    schema = revision_of(connection)
    if schema is None:
        raise InputError.of("database", "it holds no record of ours", "check its address")
    kind = connection.dialect.name
    return BackupManifest(shopfloor.__version__, schema, kind, now.isoformat(), contents(connection))


def _photographs_on_record(connection: Connection) -> set[str]:
    if not inspect(connection).has_table("photograph"):
        return set()
    return {str(uuid.UUID(str(id_))) for id_ in connection.execute(text("SELECT id FROM photograph")).scalars()}


def _pictures(settings: Settings) -> dict[str, Path]:
    """The photographs' files, read after the database: whatever it names is there."""
    return {f"{PHOTOGRAPHS}/{path.name}": path for path in sorted(picture_folder(settings).glob("*.jpg"))}


def _key(settings: Settings) -> dict[str, Path]:
    return {KEY: settings.key_file} if settings.key_file.exists() else {}


def _put(packed: Path, half: Path, passphrase: bytes | None) -> None:
    if passphrase is None:
        shutil.move(packed, half)
    else:
        seal(packed, half, passphrase)
    with half.open("r+b") as file:
        os.fsync(file.fileno())
