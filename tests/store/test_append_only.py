"""The database itself keeps the record: rows of the log are neither changed nor deleted."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from shopfloor.core.vocabulary import GaugeResult, TapEnd
from shopfloor.services.attempts import Place, begin
from shopfloor.services.batches import cancel_run, log_run
from shopfloor.services.photographs import keep_photograph
from shopfloor.services.taps import fit_tap, record_gauge_check
from shopfloor.store.floor import APPEND_ONLY
from tests.factories import open_shop
from tests.pictures import encoded, picture


def test_no_row_of_the_log_can_be_changed_or_deleted(database_url: str, tmp_path: Path) -> None:
    """Not even by hand: each append-only table refuses UPDATE, DELETE and, where the database knows it, TRUNCATE."""
    shop = open_shop(database_url, tmp_path)
    fit_tap(shop.work, "T1", "arm", "bo")
    entry = shop.entry()
    log_run(shop.work, entry)
    cancel_run(shop.work, entry.id, "entered twice", "bo")
    broken = log_run(shop.work, shop.entry(tap_end=TapEnd.BROKEN)).run_id
    keep_photograph(shop.work, uuid.uuid4(), broken, encoded(picture()))
    record_gauge_check(shop.work, uuid.uuid4(), "T2", GaugeResult.PASSED, "bo")
    emptying = ["TRUNCATE {} CASCADE"] if database_url.startswith("postgresql") else []
    key = {"cancellation": "entry_id"}
    for table in APPEND_ONLY:
        for statement in (
            f"DELETE FROM {table}",
            f"UPDATE {table} SET {key.get(table, 'id')} = {key.get(table, 'id')}",
            *(statement.format(table) for statement in emptying),
        ):
            with pytest.raises(DBAPIError, match="append-only"), shop.work.write() as session:
                session.execute(text(statement))
    shop.work.engine.dispose()


def test_no_attempt_to_log_in_can_be_changed_or_deleted(database_url: str, tmp_path: Path) -> None:
    """Not by replacing it either, which SQLite does without asking whoever guards against deleting."""
    shop = open_shop(database_url, tmp_path)
    attempt = begin(shop.work, "ada", Place(address="10.0.0.7"))
    columns = "(id, at, code, outcome) VALUES"
    again = f"INTO sign_in_attempt {columns} ({attempt}, '2026-06-01 12:00:00', 'bo', 'right')"
    is_postgres = database_url.startswith("postgresql")
    for statement in (
        "DELETE FROM sign_in_attempt",
        "UPDATE sign_in_attempt SET outcome = 'right'",
        "TRUNCATE sign_in_attempt" if is_postgres else f"INSERT OR REPLACE {again}",
        f"INSERT {again} ON CONFLICT (id) DO UPDATE SET outcome = 'right'",
    ):
        with pytest.raises(DBAPIError, match="append-only"), shop.work.write() as session:
            session.execute(text(statement))
    shop.work.engine.dispose()
