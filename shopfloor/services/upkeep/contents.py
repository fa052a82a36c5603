"""What each table of a database holds, as a count and a digest that is the same on SQLite and on PostgreSQL."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, MetaData, Table, select

_AT_ONCE = 1000
_DIGEST_BITS = 256


@dataclass(frozen=True)
class TableContent:
    """How many rows a table has, and the sum of the digests of its rows, whatever their order."""

    rows: int
    digest: str


Contents = Mapping[str, TableContent]


def contents(connection: Connection) -> dict[str, TableContent]:
    """The content of every table, by its name, as this connection's transaction sees it.

    The tables are those that the database has, not those of this version, so that an older record can be compared too.
    """
    found = MetaData()
    found.reflect(connection)
    return {table.name: _content(connection, table) for table in found.sorted_tables}


def differing(one: Contents, other: Contents) -> list[str]:
    """Names of the tables that differ or exist on one side only, sorted."""
    return sorted(name for name in {*one, *other} if one.get(name) != other.get(name))


def _content(connection: Connection, table: Table) -> TableContent:
    columns = sorted(table.columns, key=lambda column: column.name)
    rows, total = 0, 0
    options = {"yield_per": _AT_ONCE}
    for row in connection.execute(select(*columns), execution_options=options):
        written = json.dumps([_plain(value) for value in row]).encode("ascii")
        total += int.from_bytes(hashlib.sha256(written).digest())
        rows += 1
    return TableContent(rows, f"{total % 2**_DIGEST_BITS:064x}")


def _plain(value: Any) -> Any:
    """The value in the one form that both kinds of database share."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, datetime):
        return (value.astimezone(UTC) if value.tzinfo else value.replace(tzinfo=UTC)).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, UUID):
        return value.hex
    return value.hex() if isinstance(value, bytes) else value
