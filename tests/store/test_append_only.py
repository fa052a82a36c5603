"""The database itself keeps the record: whoever writes past the program deletes nothing and replaces nothing."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, create_engine, inspect, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from shopfloor.core.input.incident_report import CheckReport
from shopfloor.core.vocabulary import Cause, GaugeResult, LifeMeasure, TapEnd
from shopfloor.services.access.attempts import Origin, begin
from shopfloor.services.ledger.gauge_checks import record_gauge_check
from shopfloor.services.ledger.taps import fit_tap
from shopfloor.services.quality.failed_checks import report_failed_check
from shopfloor.services.quality.photographs import keep_photograph
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.shop import count_life_in
from shopfloor.store import Base, Job, Tap
from shopfloor.store.floor import APPEND_ONLY
from shopfloor.store.on_record import KEPT
from tests.factories import open_shop
from tests.pictures import encoded, picture

EDITS = ("catalogue_edit", "catalogue_change")
LOGS = (*APPEND_ONLY, *EDITS, "sign_in_attempt")
NOT_KEPT = {
    "tap_life": "worked out from the log, and anew by `shopfloor rebuild`",
    "life_stretch": "worked out from the log, and anew by `shopfloor rebuild`",
    "gauge_failure": "worked out from the log, and anew by `shopfloor rebuild`",
    "daily_output": "sums over the log, kept by triggers and worked out anew by `shopfloor rebuild`",
    "total_output": "sums over the log, kept by triggers and worked out anew by `shopfloor rebuild`",
    "crib_stock": "sums over the ledger, kept by triggers and worked out anew by `shopfloor rebuild`",
    "marked_in_crib": "follows from the ledger, kept by triggers and worked out anew by `shopfloor rebuild`",
    "estimate_generation": "worked out from the log; the last few stay",
    "estimate_part": "worked out from the log, with its generation",
    "estimator_lease": "who works out estimates now, and until when",
    "person_secret": "a new PIN or password takes the old one's place, and the old hash shall not be kept",
    "tablet": "when it was used last moves on; who enrolled it says the page of access",
    "sign_in": "when somebody was seen last moves on, and a log-in ends",
}
"""Tables that are no record of who did what, each with its reason."""

_FREE = {"tap_type": "supplier", "tap": "lot", "job": "part"}
"""A column of free text, where it is not the name."""


@pytest.fixture
def bare(database_url: str, tmp_path: Path) -> Iterator[Callable[[], Any]]:
    """Connections to a shop with a row in each kept table: none of ours, without a pragma of ours."""
    shop = open_shop(database_url, tmp_path)
    fit_tap(shop.work, "T1", "arm", "bo")
    entry = shop.entry()
    log_run(shop.work, entry)
    cancel_run(shop.work, entry.id, "entered twice", "bo")
    broken = log_run(shop.work, shop.entry(tap_end=TapEnd.BROKEN)).run_id
    keep_photograph(shop.work, uuid.uuid4(), broken, encoded(picture()))
    failed = uuid.uuid4()
    record_gauge_check(shop.work, failed, "T2", GaugeResult.FAILED, "bo")
    report_failed_check(shop.work, failed, CheckReport(uuid.uuid4(), None, Cause.WORN_OUT, "Oversize."), "looked", "bo")
    begin(shop.work, "ada", Origin(address="10.0.0.7"))
    count_life_in(shop.work, LifeMeasure.THREAD)
    count_life_in(shop.work, LifeMeasure.HOLES)
    shop.work.engine.dispose()
    url = database_url.replace("postgresql://", "postgresql+psycopg://")
    engine = create_engine(url, poolclass=NullPool)

    @contextmanager
    def connected() -> Iterator[Connection]:
        with engine.connect() as connection:
            yield connection

    yield connected
    engine.dispose()


def _forbidden(connection: Connection, table: str) -> list[str]:
    """Every way to lose or to falsify a row that the database knows."""
    columns = [column["name"] for column in inspect(connection).get_columns(table)]
    keys = inspect(connection).get_pk_constraint(table)["constrained_columns"]
    names, first = ", ".join(columns), keys[0]
    ways = [f"DELETE FROM {table}"]
    if table in LOGS:
        ways += [f"UPDATE {table} SET {name} = {name}" for name in columns]
        ways += [_upserted(table, names, keys)]
    else:
        is_text = table == "shop_fact"
        ways += [f"UPDATE {table} SET {first} = " + (f"{first} || 'x'" if is_text else f"{first} + 1000")]
    if connection.dialect.name == "postgresql":
        return [*ways, f"TRUNCATE {table} CASCADE"]
    other = ", ".join("NULL" if name == "id" else name for name in columns)
    ways += [
        f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
        f"REPLACE INTO {table} ({names}) SELECT {names} FROM {table}",
        f"INSERT OR REPLACE INTO {table} (rowid, {names}) SELECT rowid, {names} FROM {table}",
        _upserted(table, names, keys),
    ]
    if "code_key" in columns:
        ways += [
            f"INSERT OR REPLACE INTO {table} ({names}) SELECT {other} FROM {table}",
            f"UPDATE OR REPLACE {table} SET code = (SELECT max(code) FROM {table})",
            f"UPDATE OR REPLACE {table} SET code_key = (SELECT max(code_key) FROM {table})",
        ]
    return ways


def _upserted(table: str, names: str, keys: list[str]) -> str:
    again = f"INSERT INTO {table} ({names}) SELECT {names} FROM {table} WHERE true"
    return f"{again} ON CONFLICT ({', '.join(keys)}) DO UPDATE SET {keys[0]} = excluded.{keys[0]}"


def _rows(connection: Connection, table: str) -> list[Any]:
    return sorted(map(str, connection.execute(text(f"SELECT * FROM {table}"))))


def test_nothing_is_lost_by_hand(bare: Callable[[], Any]) -> None:
    """No statement deletes a row, replaces one or makes it another thing's; of the log none changes one."""
    with bare() as connection:
        ways = [(table, way) for table in (*LOGS, *KEPT) for way in _forbidden(connection, table)]
        before = {table: _rows(connection, table) for table in (*LOGS, *KEPT)}
    assert [] == [table for table, rows in before.items() if not rows], "empty tables, in which nothing was tried"
    assert [] == [f"{way}: {fault}" for table, way in ways for fault in _lost_by(bare, table, way, before[table])]


def _lost_by(bare: Callable[[], Any], table: str, way: str, before: list[Any]) -> Iterator[str]:
    """What is wrong after a forbidden statement."""
    with bare() as connection:
        try:
            connection.execute(text(way))
        except DBAPIError as refusal:
            if "append-only" not in str(refusal):
                yield f"refused for another reason: {refusal}"
        else:
            yield "not refused"
        connection.rollback()
        if before != _rows(connection, table):
            yield "the rows are others"


def test_what_was_changed_by_hand_is_kept(bare: Callable[[], Any]) -> None:
    """Each row as it was, to the last column; nobody is named for it who has not signed it."""
    with bare() as connection:
        for table in (name for name in KEPT if name != "person_role"):
            columns = inspect(connection).get_columns(table)
            key, changed = ("name", "value") if table == "shop_fact" else ("id", _FREE.get(table, "name"))
            names = {column["name"] for column in columns}
            rows = connection.execute(text(f"SELECT * FROM {table}"))
            wanted = {str(row._mapping[key]): row._mapping for row in rows}
            last = connection.execute(text("SELECT max(id) FROM catalogue_change")).scalar() or 0
            connection.execute(text(f"UPDATE {table} SET {changed} = 'forged'"))
            connection.commit()
            found = connection.execute(text(f"SELECT * FROM catalogue_change WHERE id > {last}")).all()
            assert wanted, table
            assert {(table, thing, None) for thing in wanted} == {(row.kind, row.thing, row.edit_id) for row in found}
            for row in found:
                was = json.loads(row.was)
                assert names == set(was)
                assert wanted[row.thing][changed] == was[changed]


def test_a_role_ends_on_record(bare: Callable[[], Any]) -> None:
    """It can be taken away only after the record says so."""
    with bare() as connection:
        connection.execute(text("UPDATE person_role SET ends = true WHERE role = 'crib'"))
        connection.execute(text("DELETE FROM person_role WHERE role = 'crib'"))
        connection.commit()
        was = [
            json.loads(row)
            for row in connection.scalars(text("SELECT was FROM catalogue_change WHERE kind = 'person_role'"))
        ]
    assert ["crib"] == [role["role"] for role in was]


def test_every_table_is_kept_or_says_why_not() -> None:
    """A new table that nobody thought of fails here."""
    assert set(Base.metadata.tables) == {*LOGS, *KEPT, *NOT_KEPT}


def test_sqlite_keeps_every_column(sqlite_url: str) -> None:
    """A trigger of SQLite names its columns: whoever adds one to a kept table makes the trigger anew."""
    engine = create_engine(sqlite_url)
    with engine.connect() as connection:
        found = connection.execute(text("SELECT tbl_name, sql FROM sqlite_master WHERE name LIKE '%_kept'"))
        written: dict[str, str] = {row.tbl_name: row.sql for row in found}
    engine.dispose()
    for table in KEPT:
        for column in Base.metadata.tables[table].columns:
            assert f"'{column.name}', OLD.{column.name}" in written[table]


def test_the_program_itself_goes_by_the_rules(database_url: str, tmp_path: Path) -> None:
    """The same statements through our own engine."""
    shop = open_shop(database_url, tmp_path)
    for table in (Tap, Job):
        with pytest.raises(DBAPIError, match="append-only"), shop.work.write() as session:
            session.execute(text(f"DELETE FROM {table.__tablename__}"))
    shop.work.engine.dispose()
