"""A shop moves from its SQLite file into an empty PostgreSQL database, row by row, with every key as it was.

The file is locked against writers meanwhile, and the database against everybody's; it is filled in one transaction,
which is committed only if every table of the one equals that of the other. Photographs are files and stay where they
are. No history is written anew: on PostgreSQL, triggers guard changes of rows, not their insertion.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, Table, insert, select, text
from sqlalchemy.exc import DBAPIError

from shopfloor.core.errors import InputError
from shopfloor.services.record.work import reason_of
from shopfloor.services.upkeep.contents import TableContent, contents, differing
from shopfloor.services.upkeep.copies import set_counter, to_fill
from shopfloor.store import Base
from shopfloor.store.engine import hold_for_upgrade, make_engine, sqlite_file
from shopfloor.store.schema import must_be_ours
from shopfloor.store.upgrade import must_be_there, prepare

_AT_ONCE = 5000

Told = Callable[[str, int], None]


def move(source: str, target: str, told: Told) -> dict[str, TableContent]:
    """Copy the shop of an SQLite file into an empty PostgreSQL database; returns what each table holds in both.

    Parameters
    ----------
    source    address of the SQLite file
    target    address of the PostgreSQL database; one without tables gets them
    told      hears the name of each table and how many of its rows are copied

    Raises
    ------
    InputError    either is not what it should be, or the copy differs; the target is empty then, as before
    """
    if sqlite_file(source) is None:
        raise InputError.of("database", "it is not an SQLite file", "name the file that the shop moves from")
    if sqlite_file(target) is not None:
        raise InputError.of("to", "it is an SQLite file", "name a PostgreSQL database: postgresql://...")
    must_be_there(source)
    for url in (source, target):
        prepare(url)
    with _writing(source) as old, _writing(target) as new:
        return _moved(old, new, told)


@contextmanager
def _writing(url: str) -> Iterator[Connection]:
    """One transaction that nobody else writes beside, undone by any exception."""
    engine: Engine = make_engine(url)
    try:
        with engine.execution_options(writes=True).begin() as connection:
            hold_for_upgrade(connection)
            must_be_ours(connection)
            yield connection
    finally:
        engine.dispose()


def _moved(old: Connection, new: Connection, told: Told) -> dict[str, TableContent]:
    _must_be_empty(new)
    for table in to_fill(new, Base.metadata.sorted_tables):
        _copy(old, new, table, told)
        set_counter(new, table)
    before, after = contents(old), contents(new)
    if differ := differing(before, after):
        what = f"these tables came out different: {', '.join(differ)}"
        raise InputError.of("move", what, "nothing was moved; go on with the SQLite file, and report this")
    return before


def _must_be_empty(new: Connection) -> None:
    filled = [table.name for table in Base.metadata.sorted_tables if new.execute(select(table).limit(1)).first()]
    if filled:
        what = f"it is not empty: {', '.join(filled)}"
        raise InputError.of("to", what, "name a database without tables")


def _copy(old: Connection, new: Connection, table: Table, told: Told) -> None:
    """All rows, in the order of their insertion: some refer to earlier ones of the same table."""
    rows = old.execute(select(table).order_by(text("rowid")), execution_options={"yield_per": _AT_ONCE})
    copied = 0
    try:
        for some in rows.mappings().partitions():
            new.execute(insert(table), [dict(row) for row in some])
            copied += len(some)
            told(table.name, copied)
    except DBAPIError as error:
        what = f"its table {table.name} does not take a row ({reason_of(error)})"
        raise InputError.of("to", what, "nothing was moved; go on with the SQLite file, and report this") from None
