"""Everything that differs between SQLite and PostgreSQL."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, select, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError

_BUSY_TIMEOUT_S = 15


def make_engine(url: str) -> Engine:
    """An engine for the database at `url`, SQLite or PostgreSQL, ready for concurrent use.

    Raises
    ------
    InputError    when the address cannot be read or names another kind of database
    """
    address = _address(url)
    backend = address.get_backend_name()
    if backend == "sqlite":
        return _sqlite(create_engine(address, connect_args={"timeout": _BUSY_TIMEOUT_S}))
    if backend == "postgresql":
        return create_engine(address.set(drivername="postgresql+psycopg"), pool_pre_ping=True)
    raise InputError.of("database", f"'{backend}' is not supported", "use sqlite or postgresql")


def sqlite_file(url: str) -> Path | None:
    """The file that an address names; None for a server or a database in memory.

    Raises
    ------
    InputError    when the address cannot be read
    """
    address = _address(url)
    is_file = address.get_backend_name() == "sqlite" and address.database not in (None, "", ":memory:")
    return Path(str(address.database)).absolute() if is_file else None


def _address(url: str) -> URL:
    try:
        return make_url(url)
    except ArgumentError:
        raise InputError.of("database", f"'{url}' is no address", "write sqlite:///PATH or postgresql://...") from None


def hold(session: Session, table: type[Any], keys: Collection[int]) -> None:
    """Keep other writers off what hangs on these rows until the transaction ends; call it before looking at that.

    SQLite has one writer at a time anyway. Rows are held in the order of their keys, so that no two writers wait for
    each other; a row may still be referred to meanwhile (hence the weaker lock).
    """
    session.execute(select(table.id).where(table.id.in_(keys)).order_by(table.id).with_for_update(key_share=True))


def hold_all(session: Session, table: type[Any]) -> None:
    """Keep every other writer off a table until the transaction ends; call it before looking whether a row is there.

    SQLite has one writer at a time anyway. Readers, and rows elsewhere that refer to it, are not kept waiting.
    """
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text(f"LOCK TABLE {table.__tablename__} IN SHARE ROW EXCLUSIVE MODE"))


def _sqlite(engine: Engine) -> Engine:
    """SQLite with write-ahead log, foreign keys, and transactions that begin when we say so."""

    @event.listens_for(engine, "connect")
    def configure(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None
        for pragma in ("journal_mode=WAL", "synchronous=NORMAL", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer takes the lock at once: upgrading a read lock later can fail where waiting would have served.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
