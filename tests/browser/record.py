"""What a browser test finds in the record of the server."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

LAST_OF_DEMO: dict[str, int] = {}
"""By database, the newest run that it came with."""


def newest_run(path: Path) -> int:
    """The row of the newest run in a copy of the demo."""
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT MAX(rowid) FROM run").fetchone()[0])


def asked(database: str, query: str, **values: Any) -> list[tuple[Any, ...]]:
    """What the record answers; `:last` is the last run of the demo."""
    with closing(sqlite3.connect(database.removeprefix("sqlite:///"))) as connection:
        return connection.execute(query, {"last": LAST_OF_DEMO[database]} | values).fetchall()


def stored(database: str) -> list[Any]:
    """Holes of the runs that the record got in this test, in the order of the work."""
    return [row[0] for row in asked(database, "SELECT holes FROM run WHERE rowid > :last ORDER BY ended_at, position")]
