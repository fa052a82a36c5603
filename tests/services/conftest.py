"""A shop on either database: furnished once, then copied for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import postgres
from tests.conftest import BOTH
from tests.factories import Shop, open_shop, reopen_shop
from tests.kept import copied

ON_BOTH = pytest.mark.parametrize("shop", BOTH, indirect=True)
"""For a test of what the databases do in ways of their own: locks, triggers, types, unique keys, and each kind of
question: sums, ranks, order, times, patterns. What follows from the answers is the same and tested on SQLite alone."""


@pytest.fixture(scope="session")
def furnished_sqlite(migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the small shop in it, to be copied and never opened."""
    folder = tmp_path_factory.mktemp("furnished")
    path = folder / "shopfloor.sqlite"
    open_shop(copied(migrated_sqlite, path), folder).work.close()
    return path


@pytest.fixture(scope="session")
def furnished_postgresql(
    postgres_server: postgres.Server, migrated_postgres: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """A PostgreSQL database with the small shop in it, to be copied and never opened."""
    url = postgres_server.make(template=migrated_postgres)
    open_shop(url, tmp_path_factory.mktemp("furnished")).work.close()
    yield url
    postgres_server.drop(url)


@pytest.fixture
def sqlite_shop(furnished_sqlite: Path, tmp_path: Path) -> Iterator[Shop]:
    """A small shop on SQLite, for tests that ask nothing of the database."""
    shop = reopen_shop(copied(furnished_sqlite, tmp_path / "shop.sqlite"), tmp_path)
    yield shop
    shop.work.close()


@pytest.fixture
def postgresql_shop(postgres_server: postgres.Server, furnished_postgresql: str, tmp_path: Path) -> Iterator[Shop]:
    """A small shop on PostgreSQL."""
    url = postgres_server.make(template=furnished_postgresql)
    shop = reopen_shop(url, tmp_path)
    yield shop
    shop.work.close()
    postgres_server.drop(url)


@pytest.fixture
def shop(request: pytest.FixtureRequest) -> Shop:
    """A small shop on the database told by `--on`, or on each where a test is marked with `ON_BOTH`."""
    made: Shop = request.getfixturevalue(f"{getattr(request, 'param', request.config.getoption('--on'))}_shop")
    return made
