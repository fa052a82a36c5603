"""Bring a database to the newest schema, with Alembic configured in code."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DatabaseError, OperationalError

import shopfloor
from shopfloor.core.errors import InputError
from shopfloor.store.engine import hold_for_upgrade, make_engine, sqlite_file

_MIGRATIONS = Path(shopfloor.__file__).resolve().parents[1] / "migrations"


@contextmanager
def _engine(url: str) -> Iterator[Engine]:
    """A temporary engine; the error names a database that cannot be reached."""
    engine = make_engine(url)
    try:
        yield engine
    except OperationalError as error:
        address = engine.url.render_as_string()
        raise InputError.of("database", f"{address} cannot be reached ({error.orig})", "check its address") from None
    except DatabaseError as error:
        # SQLite raises this class itself, not a subclass, if the file cannot be read as a database.
        if type(error.orig) is not sqlite3.DatabaseError:
            raise
        address = engine.url.render_as_string()
        raise InputError.of("database", f"{address} is no database ({error.orig})", "name an SQLite file") from None
    finally:
        engine.dispose()


def configuration(connection: Connection | None = None) -> Config:
    """Alembic's configuration for our migrations, on an open connection where one is given."""
    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def upgrade(url: str, revision: str = "head") -> None:
    """Migrate the database at `url` up to `revision`."""
    _migrate(url, lambda config: command.upgrade(config, revision))


def downgrade(url: str, revision: str) -> None:
    """Migrate the database at `url` down to `revision` ('base': no tables)."""
    _migrate(url, lambda config: command.downgrade(config, revision))


def is_at_head(engine: Engine) -> bool:
    """Whether the schema is the one that this version works with."""
    return _revision(engine) == head()


def takes_entries(engine: Engine) -> bool:
    """Whether the schema is the one that this version works with, and is writable: a row is rewritten unchanged.

    Raises
    ------
    SQLAlchemyError    the database cannot be reached, or refuses
    """
    same = text("UPDATE alembic_version SET version_num = version_num WHERE version_num = :head")
    with engine.execution_options(writes=True).begin() as connection:
        return connection.execute(same, {"head": head()}).rowcount == 1


def revision_of(connection: Connection) -> str | None:
    """The schema that the database has; None where it is none of ours."""
    return MigrationContext.configure(connection).get_current_revision()


def knows(revision: str) -> bool:
    """Whether this version has that schema among its own."""
    try:
        return ScriptDirectory.from_config(configuration()).get_revision(revision) is not None
    except CommandError:
        return False


def head() -> str | None:
    """The schema that this version works with."""
    return ScriptDirectory.from_config(configuration()).get_current_head()


def is_empty(engine: Engine) -> bool:
    """Whether the database has no table at all."""
    return not inspect(engine).get_table_names()


def must_be_there(url: str) -> None:
    """Refuse the address of an SQLite file that does not exist: opening it would make an empty one.

    Raises
    ------
    InputError    no file at that path
    """
    path = sqlite_file(url)
    if path is not None and not path.exists():
        remedy = "check the path; a new record is made by: shopfloor upgrade, serve or runs import"
        raise InputError.of("database", f"there is no file {path}", remedy)


def prepare(url: str) -> None:
    """Make an empty database ready; refuse one whose schema is older or newer than this version.

    Raises
    ------
    InputError    when the schema is not empty and not at head: upgrading a shop's record is a person's decision
    """
    with _engine(url) as engine:
        revision = _revision(engine)
        if is_empty(engine):
            upgrade(url)
        elif revision != head():
            what = f"its schema is {revision or 'not ours'}, this version needs {head()}"
            raise InputError.of("database", what, "run: shopfloor upgrade")


def _revision(engine: Engine) -> str | None:
    with engine.connect() as connection:
        return revision_of(connection)


def _migrate(url: str, step: Callable[[Config], None]) -> None:
    with _engine(url) as engine, engine.execution_options(writes=True).begin() as connection:
        # From here on nobody else upgrades; what another process has done meanwhile is found done.
        hold_for_upgrade(connection)
        try:
            step(configuration(connection))
        except CommandError as error:
            what, remedy = f"its schema is not one of this version's ({error})", "use the version that made it"
            raise InputError.of("database", what, remedy) from None
