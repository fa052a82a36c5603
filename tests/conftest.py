"""What tests of every folder share: databases to write in, and how far property tests search."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import fasteners
import pytest
from hypothesis import settings

from tests import kept, postgres

ON_BUILD_SERVER = bool(os.environ.get("CI"))
BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]

settings.register_profile("dev", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if ON_BUILD_SERVER else "dev")

kept.compiled_statements()
kept.compiled_templates()
kept.compiled_routes()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Tell on which database shops are that a test does not choose itself."""
    parser.addoption("--on", choices=("sqlite", "postgresql"), default="sqlite", help="database of the tests' shops")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests come last: what they find is easier to read once the rest is known to work.

    Among them the modules with fewest tests come first, since their tests are the longest: nobody stands idle while
    one that was begun late ends.
    """
    lengths = Counter(item.path for item in items)

    def place(item: pytest.Item) -> tuple[bool, int, str]:
        is_browser = item.get_closest_marker("browser") is not None
        return (True, lengths[item.path], item.path.name) if is_browser else (False, 0, "")

    items.sort(key=place)


def lacking(reason: str) -> NoReturn:
    """Leave a test out for want of something, but never on a build server, which must have it."""
    if ON_BUILD_SERVER:
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def migrated_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with every migration done, to be copied and never opened."""
    from shopfloor.store.upgrade import upgrade

    path = tmp_path_factory.mktemp("migrated") / "shopfloor.sqlite"
    upgrade(f"sqlite:///{path.as_posix()}")
    return path


@pytest.fixture(scope="session")
def demo_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's SQLite file, made once for all processes of a test run, to be copied and never opened."""
    folder = tmp_path_factory.getbasetemp()
    shared = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    finished = shared / "demo.sqlite"
    with fasteners.InterProcessLock(shared / "demo.lock"):
        if not finished.exists():
            kept.make_demo(shared / "unfinished.sqlite")
            (shared / "unfinished.sqlite").rename(finished)
    return finished


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[postgres.Server]:
    """A PostgreSQL that runs for as long as the tests do."""
    running = postgres.running()
    try:
        server = running.__enter__()
    except postgres.Unavailable as error:
        lacking(f"no PostgreSQL to test against ({error})")
    yield server
    running.__exit__(None, None, None)


@pytest.fixture(scope="session")
def migrated_postgres(postgres_server: postgres.Server) -> Iterator[str]:
    """A PostgreSQL database with every migration done, to be copied and never opened."""
    from shopfloor.store.upgrade import upgrade

    url = postgres_server.make()
    upgrade(url)
    yield url
    postgres_server.drop(url)


@pytest.fixture
def sqlite_url(migrated_sqlite: Path, tmp_path: Path) -> str:
    """Address of a fresh, migrated SQLite database."""
    return kept.copied(migrated_sqlite, tmp_path / "shopfloor.sqlite")


@pytest.fixture
def postgresql_url(postgres_server: postgres.Server, migrated_postgres: str) -> Iterator[str]:
    """Address of a fresh, migrated PostgreSQL database."""
    url = postgres_server.make(template=migrated_postgres)
    yield url
    postgres_server.drop(url)


@pytest.fixture
def empty_sqlite_url(tmp_path: Path) -> str:
    """Address of a SQLite database that does not exist yet."""
    return f"sqlite:///{(tmp_path / 'empty.sqlite').as_posix()}"


@pytest.fixture
def empty_postgresql_url(postgres_server: postgres.Server) -> Iterator[str]:
    """Address of a PostgreSQL database without a table."""
    url = postgres_server.make()
    yield url
    postgres_server.drop(url)


@pytest.fixture(params=BOTH)
def database_url(request: pytest.FixtureRequest) -> str:
    """Address of a fresh, migrated database; the test runs on SQLite and on PostgreSQL."""
    return str(request.getfixturevalue(f"{request.param}_url"))


@pytest.fixture(params=BOTH)
def empty_database_url(request: pytest.FixtureRequest) -> str:
    """Address of a database without a table; the test runs on SQLite and on PostgreSQL."""
    return str(request.getfixturevalue(f"empty_{request.param}_url"))
