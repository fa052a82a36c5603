"""A database's rows as files, from one consistent state, and back again.

SQLite copies itself by its backup interface. PostgreSQL writes each table by COPY; the tables themselves are made by
the migrations, so a backup needs no program but ours and can be brought back by any newer version.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Integer, MetaData, Table, delete, func, inspect, select
from sqlalchemy.exc import OperationalError

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.services.upkeep.archive import DATABASE, TABLES
from shopfloor.store.engine import make_engine
from shopfloor.store.output import KEPT_BY_TRIGGERS

_PIECE = 1 << 16
_VERSION_TABLE = "alembic_version"


@contextmanager
def one_state(url: str) -> Iterator[Connection]:
    """A connection on which everything read is of one moment, however long it takes.

    Raises
    ------
    InputError    the database cannot be reached
    """
    engine = make_engine(url)
    try:
        options = {} if engine.dialect.name == "sqlite" else {"isolation_level": "REPEATABLE READ"}
        with engine.connect().execution_options(**options) as connection:
            yield connection
    except OperationalError as error:
        address = engine.url.render_as_string()
        raise InputError.of(
            "database",
            phrase("{address} cannot be read ({why})", address=address, why=str(error.orig)),
            "check its address",
        ) from None
    finally:
        engine.dispose()


def copy_out(connection: Connection, folder: Path) -> dict[str, Path]:
    """Write the database's rows into the folder; the files by their names in a backup."""
    if connection.dialect.name == "sqlite":
        _copy_sqlite(connection, folder / DATABASE)
        return {DATABASE: folder / DATABASE}
    (folder / TABLES).mkdir()
    names = [table.name for table in _tables(connection)]
    for name in names:
        _copy_table_out(connection, name, folder / TABLES / f"{name}.copy")
    return {f"{TABLES}/{name}.copy": folder / TABLES / f"{name}.copy" for name in names}


def copy_in(engine: Engine, folder: Path) -> None:
    """Fill the empty tables of a PostgreSQL database, in one transaction, and set its counters."""
    with engine.begin() as connection:
        for table in to_fill(connection, _tables(connection)):
            _copy_table_in(connection, table.name, folder / TABLES / f"{table.name}.copy")
            set_counter(connection, table)


def to_fill(connection: Connection, tables: Iterable[Table]) -> Iterator[Table]:
    """The tables in the order in which copied rows are inserted: last those that triggers have filled meanwhile."""
    every = list(tables)
    yield from (table for table in every if table.name not in KEPT_BY_TRIGGERS)
    for table in every:
        if table.name in KEPT_BY_TRIGGERS:
            connection.execute(delete(table))
            yield table


def _copy_sqlite(connection: Connection, to: Path) -> None:
    with closing(sqlite3.connect(to)) as copy:
        _driver(connection).backup(copy)
        # Without this the copy would want a -wal of its own beside it.
        copy.execute("PRAGMA journal_mode=DELETE")


def _tables(connection: Connection) -> list[Table]:
    """All tables but that of the schema's version, each after those that it refers to."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != _VERSION_TABLE]


def _driver(connection: Connection) -> Any:
    return connection.connection.dbapi_connection


def _copy_table_out(connection: Connection, name: str, to: Path) -> None:
    columns = [column["name"] for column in _inspected(connection, name)]
    with to.open("wb") as file, _driver(connection).cursor() as cursor:
        file.write(json.dumps(columns).encode("utf-8") + b"\n")
        with cursor.copy(f"COPY {name} ({_listed(connection, columns)}) TO STDOUT") as copy:
            file.writelines(copy)


def _copy_table_in(connection: Connection, name: str, source: Path) -> None:
    with source.open("rb") as file, _driver(connection).cursor() as cursor:
        columns = json.loads(file.readline())
        with cursor.copy(f"COPY {name} ({_listed(connection, columns)}) FROM STDIN") as copy:
            while piece := file.read(_PIECE):
                copy.write(piece)


def set_counter(connection: Connection, table: Table) -> None:
    """Let the next key of a PostgreSQL table follow the greatest one."""
    for column in table.primary_key.columns:
        if isinstance(column.type, Integer):
            counter = func.pg_get_serial_sequence(table.name, column.name)
            following = select(func.setval(counter, func.max(column))).where(counter.is_not(None))
            connection.execute(following.select_from(table))


def _inspected(connection: Connection, name: str) -> list[Any]:
    return list(inspect(connection).get_columns(name))


def _listed(connection: Connection, columns: list[str]) -> str:
    return ", ".join(connection.dialect.identifier_preparer.quote_identifier(column) for column in columns)
