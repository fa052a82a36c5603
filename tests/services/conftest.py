"""A shop on either database."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.factories import Shop, open_shop


@pytest.fixture
def shop(database_url: str, tmp_path: Path) -> Iterator[Shop]:
    """A small shop; the test runs on SQLite and on PostgreSQL."""
    shop = open_shop(database_url, tmp_path)
    yield shop
    shop.work.engine.dispose()


@pytest.fixture
def sqlite_shop(sqlite_url: str, tmp_path: Path) -> Iterator[Shop]:
    """A small shop on SQLite, for tests that ask nothing of the database."""
    shop = open_shop(sqlite_url, tmp_path)
    yield shop
    shop.work.engine.dispose()
