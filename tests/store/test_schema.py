"""A program that is older than the database stops writing into it; an upgrade waits for whoever writes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import Engine, text

from shopfloor.app import create_app
from shopfloor.core.errors import OutdatedProgram
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings
from shopfloor.store import Person
from shopfloor.store.engine import hold_for_upgrade, make_engine
from tests.factories import Shop, open_shop

NEWER = "UPDATE alembic_version SET version_num = '9999'"


@pytest.fixture
def shop(database_url: str, tmp_path: Path) -> Shop:
    """A small shop that is served while its database is upgraded."""
    return open_shop(database_url, tmp_path)


def upgraded(engine: Engine) -> None:
    """What a newer version's upgrade leaves behind, as far as an older one can tell."""
    with engine.execution_options(writes=True).begin() as connection:
        hold_for_upgrade(connection)
        connection.execute(text(NEWER))


def people(work: Work) -> int | None:
    """How many are on record."""
    with work.read() as session:
        return session.scalar(text("SELECT COUNT(*) FROM person"))


def test_an_older_server_stores_nothing_more(shop: Shop) -> None:
    """Its tablets hear 503, which makes them keep what they have; pages that only show go on."""
    client = create_app(shop.work).test_client()
    before = people(shop.work)
    upgraded(shop.work.engine)
    sent = {
        "id": "0190b5a0-0000-7000-8000-000000000001", "person": "ada", "station": "arm", "job": "J1", "tap": "T1",
        "rpm": 250, "holes": 4, "cutting_slips": 0, "tap_end": "still good", "when": shop.clock().isoformat(),
    }  # fmt: skip
    answer = client.post("/sync/runs", json=sent)
    assert (503, True) == (answer.status_code, "This server must be updated" in answer.text)
    with pytest.raises(OutdatedProgram, match="9999"), shop.work.write() as session:
        session.add(Person(code="new", name="New N."))
    assert (before, 200) == (people(shop.work), client.get("/setup/people").status_code)
    shop.work.close()


def test_an_upgrade_waits_for_who_writes(shop: Shop, database_url: str, tmp_path: Path) -> None:
    """What was begun on the old schema is stored before there is a new one; what begins later is refused."""
    other = make_engine(database_url)
    with ThreadPoolExecutor(1) as elsewhere:
        with shop.work.write() as session:
            session.add(Person(code="new", name="New N."))
            session.flush()
            upgrade = elsewhere.submit(upgraded, other)
            assert not upgrade.done()
        assert upgrade.result() is None
    late = Work.on(Settings(database=database_url, data_folder=tmp_path))
    with pytest.raises(OutdatedProgram), late.write():
        pass
    assert 3 == people(late)
    for engine in (late.engine, other, shop.work.engine):
        engine.dispose()


@pytest.mark.postgres
def test_who_waits_for_an_upgrade_sees_it(postgresql_url: str, tmp_path: Path) -> None:
    """A writer that came while the upgrade was under way does not go by what was there before."""
    shop, other = open_shop(postgresql_url, tmp_path), make_engine(postgresql_url)
    waiting = text("SELECT COUNT(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted")

    def write() -> None:
        with shop.work.write():
            pass

    with ThreadPoolExecutor(1) as elsewhere:
        with other.begin() as upgrade:
            hold_for_upgrade(upgrade)
            upgrade.execute(text(NEWER))
            writer = elsewhere.submit(write)
            while not upgrade.scalar(waiting):
                assert not writer.done()
        with pytest.raises(OutdatedProgram):
            writer.result()
    shop.work.close()
    other.dispose()
