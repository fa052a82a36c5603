"""How SQLite goes about the queries of a function."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlalchemy import event

from tests.factories import Shop


def steps_of(shop: Shop, ask: Callable[[], object]) -> list[str]:
    """The steps of each query that is sent meanwhile, as its planner tells them."""
    sent: list[tuple[str, Any]] = []
    event.listen(shop.work.engine, "before_cursor_execute", lambda *told: sent.append((told[2], told[3])))
    ask()
    asked = [one for one in sent if one[0].startswith("SELECT")]
    with shop.work.engine.connect() as connection:
        plans = [connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {words}", given).all() for words, given in asked]
    return [row[3] for plan in plans for row in plan]


def whole_tables(steps: list[str]) -> list[str]:
    """The steps that read a table from one end to the other."""
    return [step for step in steps if step.startswith("SCAN") and "INDEX" not in step and "CONSTANT" not in step]
