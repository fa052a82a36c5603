"""Migrations: up, down and up again, and the schema is the models'."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, select, text, update
from sqlalchemy.exc import DBAPIError, IntegrityError

from shopfloor.core.errors import InputError
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.quality.photographs import cancel_photograph, keep_photograph
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.store import Base, Cancellation, Job, Run, Station
from shopfloor.store.engine import make_engine
from shopfloor.store.upgrade import downgrade, is_at_head, is_empty, prepare, upgrade
from tests.factories import open_shop
from tests.pictures import encoded, picture


def test_empty_to_head_to_base_to_head(empty_database_url: str) -> None:
    """Every step works in both directions and leaves nothing behind."""
    engine = make_engine(empty_database_url)
    try:
        for _ in range(2):
            upgrade(empty_database_url)
            assert is_at_head(engine)
            downgrade(empty_database_url, "base")
            assert {"alembic_version"} >= set(inspect(engine).get_table_names())
    finally:
        engine.dispose()


def test_head_equals_the_models(database_url: str) -> None:
    """Alembic finds no difference between the migrated schema and the models."""
    engine = make_engine(database_url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert [] == compare_metadata(context, Base.metadata)
    engine.dispose()


def test_prepare_migrates_an_empty_database(empty_database_url: str) -> None:
    """A newcomer need not know of migrations."""
    prepare(empty_database_url)
    engine = make_engine(empty_database_url)
    assert is_at_head(engine)
    assert not is_empty(engine)
    engine.dispose()


def test_prepare_refuses_another_schema(empty_sqlite_url: str) -> None:
    """A database that is not ours, or from another version, is left alone and the way out is named."""
    engine = make_engine(empty_sqlite_url)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE stranger (id INTEGER)")
    engine.dispose()
    with pytest.raises(InputError, match="run: shopfloor upgrade"):
        prepare(empty_sqlite_url)


@pytest.mark.parametrize(
    ("url", "told"),
    [
        ("nonsense", "is no address"),
        ("mysql://host/name", "is not supported"),
        ("sqlite:////no/such/folder/x.db", "cannot be reached"),
        ("postgresql://nobody@127.0.0.1:1/none", "cannot be reached"),
    ],
)
def test_databases_that_cannot_be_used(url: str, told: str) -> None:
    """The message names the database and never the password."""
    with pytest.raises(InputError, match=told):
        upgrade(url)


def test_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    """Somebody names the wrong file: words, no traceback, and the file is untouched."""
    path = tmp_path / "letter.db"
    path.write_text("Dear crib, please order taps. " * 50, encoding="utf-8")
    for act in (prepare, upgrade):
        with pytest.raises(InputError, match="is no database"):
            act(f"sqlite:///{path.as_posix()}")
    assert path.read_text(encoding="utf-8").startswith("Dear crib")


def test_a_schema_from_the_future_is_refused(database_url: str) -> None:
    """A database of a newer version is left alone by an older one, in words."""
    engine = make_engine(database_url)
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    engine.dispose()
    with pytest.raises(InputError, match="its schema is 9999"):
        prepare(database_url)
    with pytest.raises(InputError, match="not one of this version's"):
        upgrade(database_url)


def test_columns_come_and_go_under_runs_that_refer_to_their_rows(database_url: str, tmp_path: Path) -> None:
    """The third revision is undone and done again with a shop on record: its runs, stations and jobs stay."""
    shop = open_shop(database_url, tmp_path)
    log_run(shop.work, shop.entry())
    shop.work.engine.dispose()
    downgrade(database_url, "0002")
    upgrade(database_url)
    with shop.work.read() as session:
        run = session.scalars(select(Run)).one()
        assert (48, "J1") == (run.holes, session.get_one(Job, run.job_id).code)
        assert {} == session.scalars(select(Station)).first().largest_threads()  # type: ignore[union-attr]
    shop.work.engine.dispose()


def test_cancellations_outlive_the_table_made_anew(database_url: str, tmp_path: Path) -> None:
    """The eighth revision is undone and done again: what was cancelled stays so, what was said of photographs goes."""
    shop = open_shop(database_url, tmp_path)
    entry, broken = shop.entry(), shop.entry(tap="T2", tap_end=TapEnd.BROKEN)
    for each in (entry, broken):
        log_run(shop.work, each)
    cancel_run(shop.work, entry.id, "entered twice", "bo")
    id_ = uuid.uuid4()
    keep_photograph(shop.work, id_, broken.id, encoded(picture()))
    cancel_photograph(shop.work, broken.id, id_, "blurred", "bo")
    shop.work.engine.dispose()
    downgrade(database_url, "0007")
    upgrade(database_url)
    with shop.work.read() as session:
        kept = session.scalars(select(Cancellation)).all()
        assert [(entry.id, "run", "entered twice")] == [(row.entry_id, row.entry_table, row.reason) for row in kept]
    with pytest.raises(DBAPIError, match="append-only"), shop.work.write() as session:
        session.execute(text("DELETE FROM cancellation"))
    shop.work.engine.dispose()


@pytest.mark.parametrize(("table", "column"), [(Station, "torque_nm"), (Job, "drilled_mm"), (Job, "drill_depth_mm")])
def test_what_cannot_be_is_refused_by_the_database_itself(
    database_url: str, tmp_path: Path, table: type[Base], column: str
) -> None:
    """A torque or a size of nought is no fact, however it came."""
    shop = open_shop(database_url, tmp_path)
    with pytest.raises(IntegrityError), shop.work.write() as session:
        session.execute(update(table).values({column: 0}))
    shop.work.engine.dispose()
