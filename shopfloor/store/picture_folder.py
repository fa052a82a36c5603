"""The folder of photographs beside the database: one file each, named by its id, complete or absent."""

from __future__ import annotations

import os
import uuid
from pathlib import Path

from shopfloor.settings import Settings
from shopfloor.store.engine import sqlite_file


def picture_folder(settings: Settings) -> Path:
    """Where photographs are stored: as configured, else beside the SQLite file, else in the data folder."""
    if settings.photographs:
        return Path(settings.photographs).absolute()
    database = sqlite_file(settings.database)
    if database is not None:
        return database.with_name(f"{database.name}.photographs")
    return settings.data_folder.absolute() / "photographs"


def keep_picture(folder: Path, id_: uuid.UUID, content: bytes) -> None:
    """Write a photograph, flushed to disk before this returns; replaces a file of the same name.

    Raises
    ------
    OSError    the folder cannot be made or written, or the disk is full
    """
    folder.mkdir(parents=True, exist_ok=True)
    half = folder / f"{id_}.{uuid.uuid4().hex}.half"
    try:
        with half.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        half.replace(_place(folder, id_))
    except OSError:
        half.unlink(missing_ok=True)
        raise
    _flush_names(folder)


def kept_picture(folder: Path, id_: uuid.UUID) -> bytes | None:
    """The photograph, or None if its file is missing."""
    try:
        return _place(folder, id_).read_bytes()
    except FileNotFoundError:
        return None


def has_picture(folder: Path, id_: uuid.UUID) -> bool:
    """Whether its file exists."""
    return _place(folder, id_).is_file()


def remove_picture(folder: Path, id_: uuid.UUID) -> None:
    """Delete its file, if it exists: only when the whole record is discarded."""
    _place(folder, id_).unlink(missing_ok=True)


def _place(folder: Path, id_: uuid.UUID) -> Path:
    return folder / f"{id_}.jpg"


def _flush_names(folder: Path) -> None:
    """Flush the new directory entry, too; only POSIX can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
