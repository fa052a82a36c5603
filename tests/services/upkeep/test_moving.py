"""A shop moves from SQLite to PostgreSQL: equal table by table, usable at once, and not at all where it cannot."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import func, select, text

from shopfloor.cli import main
from shopfloor.services.runs.runs import cancel_run, log_run
from shopfloor.services.upkeep import moving
from shopfloor.store import Base, Person, Run
from shopfloor.store.engine import make_engine
from shopfloor.store.upgrade import is_empty
from tests.factories import open_shop, reopen_shop
from tests.kept import copied

pytestmark = pytest.mark.postgres


def moved(source: str, target: str) -> Result:
    """What the command says."""
    return CliRunner().invoke(main, ["move", "--to", target, "--database", source])


def counts(url: str) -> dict[str, int]:
    """How many rows each table has."""
    engine = make_engine(url)
    with engine.connect() as connection:
        tables = Base.metadata.sorted_tables
        found = {table.name: connection.scalar(select(func.count()).select_from(table)) or 0 for table in tables}
    engine.dispose()
    return found


def test_a_whole_shop_is_moved(demo_database: Path, empty_postgresql_url: str, tmp_path: Path) -> None:
    """The demo: every row is there, and it says where photographs are."""
    source = copied(demo_database, tmp_path / "shop.sqlite")
    done = moved(source, empty_postgresql_url)
    assert (0, True) == (done.exit_code, f"{tmp_path / 'shop.sqlite'}.photographs" in done.output), done.output
    assert counts(source) == counts(empty_postgresql_url)


def test_the_shop_goes_on(sqlite_url: str, empty_postgresql_url: str, tmp_path: Path) -> None:
    """A run that was cancelled came along; what is sent again is known; a new person's key follows the old ones."""
    old = open_shop(sqlite_url, tmp_path)
    first, second = old.entry(), old.entry()
    for entry in (first, second):
        log_run(old.work, entry)
    cancel_run(old.work, first.id, "entered twice", "bo")
    old.work.close()
    assert 0 == moved(sqlite_url, empty_postgresql_url).exit_code
    new = reopen_shop(empty_postgresql_url, tmp_path)
    assert [False, True] == [log_run(new.work, entry).is_new for entry in (second, new.entry())]
    with new.work.write() as session:
        session.add(Person(code="new", name="New N."))
    with new.work.read() as session:
        assert [1, 2, 3] == list(session.scalars(select(Person.id).order_by(Person.id)))
        assert 3 == session.scalar(select(func.count()).select_from(Run))
    new.work.close()


def test_a_database_with_rows_is_left_alone(sqlite_url: str, postgresql_url: str, tmp_path: Path) -> None:
    """Whoever is there already stays alone."""
    for url in (sqlite_url, postgresql_url):
        open_shop(url, tmp_path).work.close()
    before = counts(postgresql_url)
    done = moved(sqlite_url, postgresql_url)
    assert (2, True) == (done.exit_code, "it is not empty" in done.output)
    assert before == counts(postgresql_url)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("UPDATE person SET name = 'A' || char(0)", "its table person does not take a row"),
        ("UPDATE person SET name = printf('%0300d', 1)", "its table person does not take a row"),
    ],
)
def test_what_cannot_be_moved_is_told(
    change: str, told: str, sqlite_url: str, empty_postgresql_url: str, tmp_path: Path
) -> None:
    """What SQLite takes from another program and PostgreSQL refuses; nothing is there afterwards."""
    shop = open_shop(sqlite_url, tmp_path)
    with shop.work.write() as session:
        session.execute(text(change))
    shop.work.close()
    done = moved(sqlite_url, empty_postgresql_url)
    assert (2, True) == (done.exit_code, told in done.output), done.output
    assert {0} == set(counts(empty_postgresql_url).values())


def test_a_copy_that_differs_is_undone(
    sqlite_url: str, empty_postgresql_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every table is compared before anything is committed."""
    open_shop(sqlite_url, tmp_path).work.close()
    copy = moving._copy

    def lossy(old: Any, new: Any, table: Any, told: Any) -> None:
        if table.name != "person_role":
            copy(old, new, table, told)

    monkeypatch.setattr(moving, "_copy", lossy)
    done = moved(sqlite_url, empty_postgresql_url)
    assert (2, True) == (done.exit_code, "came out different: person_role;" in done.output), done.output
    assert {0} == set(counts(empty_postgresql_url).values())


@pytest.mark.parametrize("ends", ["from", "to"])
def test_only_from_sqlite_to_postgresql(
    ends: str, sqlite_url: str, empty_sqlite_url: str, empty_postgresql_url: str
) -> None:
    """Anything else is refused before anything is made."""
    source, target = (empty_postgresql_url, sqlite_url) if ends == "from" else (sqlite_url, empty_sqlite_url)
    assert 2 == moved(source, target).exit_code
    engine = make_engine(empty_postgresql_url)
    assert is_empty(engine)
    engine.dispose()
