"""Is the database's file still the one that was opened? If it was moved, entries would go where nobody looks.

So the server has to be stopped before a backup is restored.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy.exc import OperationalError

_MOVED = "the file at its path is not the one that was opened: put that back, or start anew"


class SameFile:
    """A database's file, identified by its inode once it has been opened."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._opened: tuple[int, int] | None = None

    def remember(self) -> None:
        """Remember the file at the path, which has just been opened, as the one expected there from now on."""
        if self._opened is None:
            self._opened = self._found()

    def must_be_there(self) -> None:
        """Refuse to open another file at the path, or to create a new one there.

        Raises
        ------
        sqlite3.OperationalError    it was moved, removed or replaced
        """
        if self._opened is not None and self._found() != self._opened:
            raise sqlite3.OperationalError(_MOVED)

    def must_be_used(self) -> None:
        """Refuse to begin a transaction in a file that is no longer at its path.

        Raises
        ------
        OperationalError    as SQLAlchemy raises it if a database cannot be reached
        """
        try:
            self.must_be_there()
        except sqlite3.OperationalError as error:
            raise OperationalError("BEGIN", None, error) from None

    def _found(self) -> tuple[int, int] | None:
        try:
            found = self._path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino
