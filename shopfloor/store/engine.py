"""Everything that differs between SQLite and PostgreSQL."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, create_engine, event, inspect, select, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError
from shopfloor.store import patience
from shopfloor.store.same_file import SameFile

PAGES_WAIT_S, COMMANDS_WAIT_S = 4, 120
"""How long to wait for another writer of a SQLite file. A page fails within 5 seconds; a command can take its time."""

POOL_S = 3
"""How long to wait for one of the connections to a server."""

SYNCHRONOUS = "FULL"
"""SQLite syncs each commit: whatever was answered as saved survives a power failure."""

_TURNS, _TURN_S = 80, 0.05

_HELD = "held"
"""Under this name a session remembers the rows that it has locked, by table and key."""

UPGRADE_KEY = 7_215_940_338
"""Key of PostgreSQL's advisory lock for upgrades; any number that nobody else uses."""


def make_engine(url: str, *, for_pages: bool = False) -> Engine:
    """An engine for the database at `url`, SQLite or PostgreSQL, ready for concurrent use.

    `for_pages`: give up within seconds on a database that does not answer; a command waits much longer.

    Raises
    ------
    InputError    when the address cannot be read or names another kind of database
    """
    address = _address(url)
    backend = address.get_backend_name()
    if backend == "sqlite":
        wait_s = PAGES_WAIT_S if for_pages else COMMANDS_WAIT_S
        # What people typed belongs in the record, not in error logs.
        return _sqlite(create_engine(address, connect_args={"timeout": wait_s}, hide_parameters=True), sqlite_file(url))
    if backend == "postgresql":
        server = address.set(drivername="postgresql+psycopg")
        engine = create_engine(server, pool_pre_ping=True, pool_timeout=POOL_S, hide_parameters=True)
        limits = patience.PAGES if for_pages else patience.COMMANDS
        patience.wait_not_too_long(engine, limits, rests=for_pages)
        return engine
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
    """Lock these rows, and what depends on them, until the transaction ends; call it before reading them.

    SQLite has one writer at a time anyway. Rows are locked in the order of their keys, so that no two writers wait for
    each other; other rows may still refer to them meanwhile (hence the weaker lock). What the session knew of them is
    read anew. Rows that it holds already are left alone.
    """
    if session.get_bind().dialect.name == "sqlite":
        return
    held: dict[tuple[type[Any], int], Any] = session.info.setdefault(_HELD, {})
    new = {key for key in keys if (table, key) not in held}
    if not new:
        return
    locked = select(table).where(table.id.in_(new)).order_by(table.id).with_for_update(key_share=True, of=table)
    rows = session.scalars(locked.execution_options(populate_existing=True)).unique()
    held.update({(table, row.id): row for row in rows})


def put(session: Session, table: type[Any], rows: Sequence[Mapping[str, Any]]) -> None:
    """Insert rows with all their columns, each in place of the one that has its primary key."""
    if not rows:
        return
    made: Table = inspect(table).local_table
    dialect = postgresql if session.get_bind().dialect.name == "postgresql" else sqlite
    new = dialect.insert(made)
    values = {column.name: new.excluded[column.name] for column in made.columns if not column.primary_key}
    session.execute(new.on_conflict_do_update(index_elements=list(made.primary_key), set_=values), rows)


def hold_all(session: Session, table: type[Any]) -> None:
    """Lock a table against other writers until the transaction ends; call it before checking whether a row exists.

    SQLite has one writer at a time anyway. Readers, and rows elsewhere that refer to it, do not have to wait.
    """
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text(f"LOCK TABLE {table.__tablename__} IN SHARE ROW EXCLUSIVE MODE"))


def as_of_now(session: Session) -> None:
    """Let everything that the session reads be of one moment, whatever is written meanwhile; call it first.

    SQLite reads so anyway.
    """
    if session.get_bind().dialect.name == "postgresql":
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})


def hold_for_upgrade(connection: Connection) -> None:
    """Serialise upgrades, from here to the end of the transaction; whoever writes is waited for.

    SQLite has one writer at a time anyway.
    """
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({UPGRADE_KEY})")


def _sqlite(engine: Engine, path: Path | None) -> Engine:
    """SQLite with a write-ahead log, foreign keys and explicit transactions, tied to one file."""
    file = SameFile(path) if path else None

    if file:

        @event.listens_for(engine, "do_connect")
        def look(*_: Any) -> None:
            file.must_be_there()

    @event.listens_for(engine, "connect")
    def configure(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None
        _write_ahead(connection)
        for pragma in (f"synchronous={SYNCHRONOUS}", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")
        if file:
            file.remember()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if file:
            file.must_be_used()
        # A writer locks at once: upgrading a read lock later can fail where waiting would have worked.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Turn on the write-ahead log; for this step SQLite does not wait for others by itself."""
    for turn in range(_TURNS):
        try:
            connection.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or turn == _TURNS - 1:
                raise
            time.sleep(_TURN_S)
        else:
            return
