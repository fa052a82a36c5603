"""Writers work on the schema that they know, from their first statement to their last.

A server goes on running while another machine upgrades the database. What it would store then might be read wrongly, so
each transaction that writes looks first, and holds an upgrade back until it ends.
"""

from __future__ import annotations

import functools

from sqlalchemy import Connection

from shopfloor.core.errors import OutdatedProgram
from shopfloor.store.engine import UPGRADE_KEY

_LOOK = "SELECT version_num FROM alembic_version"
_HOLD = f"SELECT pg_advisory_xact_lock_shared({UPGRADE_KEY})"


def must_be_ours(connection: Connection) -> None:
    """Refuse to write where another version's schema is; call it first in a transaction.

    Raises
    ------
    OutdatedProgram    the database has been upgraded
    """
    found = _found(connection)
    if found != _ours():
        raise OutdatedProgram(f"the database's schema is {found}, this version writes {_ours()}")


def _found(connection: Connection) -> str | None:
    """The schema that the database has now, and keeps until the transaction ends."""
    if connection.dialect.name == "sqlite":
        found: str | None = connection.exec_driver_sql(_LOOK).scalar()
        return found
    # Both in one exchange with the server, but two statements: the second one sees what the first waited for.
    with connection.exec_driver_sql(f"{_HOLD}; {_LOOK}") as result:
        result.cursor.nextset()
        row = result.cursor.fetchone()
    return row[0] if row else None


@functools.cache
def _ours() -> str | None:
    from shopfloor.store.upgrade import head  # slow to load

    return head()
