"""A small shop made by hand, with a clock that a test can move, and a browserless client of its pages."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import func, select

from shopfloor.app import create_app
from shopfloor.core.input.run_entry import AT_THE_STATION, EntryLimits, read_run
from shopfloor.core.vocabulary import Chamfer, IsoGroup, Role, StationKind, TapStyle
from shopfloor.services.ledger.taps import fit_tap, receive_tap
from shopfloor.services.record.work import Work
from shopfloor.services.runs.runs import log_run
from shopfloor.settings import Settings
from shopfloor.store import Job, Material, Person, PersonRole, Run, Station, TapType
from tests import postgres
from tests.factories import Clock
from tests.kept import copied
from tests.web.inspector import InspectingClient

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Shop:
    """The shop's record, and short ways to add to it and to look into it.

    T0001 (M8) is in arm-1; T0002 (M8) and T0003 (M6) lie in the crib. J-1 needs M8 in steel, J-2 M6 in stainless
    steel; J-3 is closed, J-4 has no thread. arm-1 runs at 25 to 500 rpm, air-1 only at 350.
    """

    work: Work
    clock: Clock

    def log(self, **fields: object) -> uuid.UUID:
        """Log a run a minute later: Ada's 48 still good holes with T0001 on J-1 at arm-1, but for what is given."""
        self.clock.move(minutes=1)
        raw: dict[str, object] = {
            "id": str(uuid.uuid4()), "person": "ada", "station": "arm-1", "job": "J-1", "tap": "T0001", "rpm": 300,
            "holes": 48, "cutting_slips": 0, "tap_end": "still good", "part_fate": "good",
        }  # fmt: skip
        limits = EntryLimits(self.clock(), UTC, 5000, AT_THE_STATION, device_sets_time=False)
        return log_run(self.work, read_run(raw | fields, limits)).run_id

    def add(self, *rows: Any) -> None:
        """Store rows of the catalogue."""
        with self.work.write() as session:
            session.add_all(rows)

    def runs(self) -> list[Run]:
        """Every stored run, in the order of storing."""
        with self.work.read() as session:
            return list(session.scalars(select(Run).order_by(Run.recorded_at, Run.position)))

    def count(self, table: type[Any]) -> int:
        """How many rows a table has."""
        with self.work.read() as session:
            return session.scalar(select(func.count()).select_from(table)) or 0


@pytest.fixture
def clock() -> Clock:
    """The shop's clock."""
    return Clock(MORNING)


@pytest.fixture(scope="session")
def shop_file(migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop as it is a minute after the morning began, to be copied and never opened."""
    folder = tmp_path_factory.mktemp("shop")
    clock = Clock(MORNING)
    work = Work.on(Settings(database=copied(migrated_sqlite, folder / "shop.sqlite"), data_folder=folder), clock)
    furnish(Shop(work, clock))
    work.close()
    return folder / "shop.sqlite"


def furnish(shop: Shop) -> None:
    """Put people, things and taps into a new shop."""
    shop.add(*_catalogue())
    shop.add(*_jobs())
    for code, kind in (("T0001", "M8 spiral point"), ("T0002", "M8 spiral point"), ("T0003", "M6 spiral flute")):
        receive_tap(shop.work, code, kind, "ben")
    shop.clock.move(minutes=1)
    fit_tap(shop.work, "T0001", "arm-1", "ada")


@pytest.fixture(scope="session")
def shop_on_postgresql(
    postgres_server: postgres.Server, migrated_postgres: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """The same shop on PostgreSQL, to be copied and never opened."""
    url, clock = postgres_server.make(template=migrated_postgres), Clock(MORNING)
    work = Work.on(Settings(database=url, data_folder=tmp_path_factory.mktemp("shop")), clock)
    furnish(Shop(work, clock))
    work.close()
    yield url
    postgres_server.drop(url)


@pytest.fixture
def sqlite_copy(shop_file: Path, tmp_path: Path) -> str:
    """Address of a test's own shop on SQLite."""
    return copied(shop_file, tmp_path / "shop.sqlite")


@pytest.fixture
def postgresql_copy(postgres_server: postgres.Server, shop_on_postgresql: str) -> Iterator[str]:
    """Address of a test's own shop on PostgreSQL."""
    url = postgres_server.make(template=shop_on_postgresql)
    yield url
    postgres_server.drop(url)


@pytest.fixture
def shop(request: pytest.FixtureRequest, tmp_path: Path, clock: Clock) -> Iterator[Shop]:
    """A shop with two stations, two people, two open jobs and three taps, on the database told by `--on`."""
    database = str(request.getfixturevalue(f"{request.config.getoption('--on')}_copy"))
    work = Work.on(Settings(database=database, data_folder=tmp_path / "instance"), clock)
    clock.move(minutes=1)
    yield Shop(work, clock)
    work.close()


@pytest.fixture
def client(shop: Shop) -> FlaskClient:
    """A client of the shop's pages that looks over each of them; its forms need no token."""
    app = create_app(shop.work)
    app.test_client_class = InspectingClient
    app.config.update(TESTING=False, WTF_CSRF_ENABLED=False)
    return app.test_client()


def _catalogue() -> list[Any]:
    return [
        Material(code="steel", name="Structural steel", iso_group=IsoGroup.P, hardness_hb=140),
        Material(code="stainless", name="Stainless steel", iso_group=IsoGroup.M, hardness_hb=185),
        TapType(
            code="M8 spiral point", thread="M8", style=TapStyle.SPIRAL_POINT, chamfer=Chamfer.PLUG, unit_cost=12,
            lead_time_days=7,
        ),
        TapType(
            code="M6 spiral flute", thread="M6", style=TapStyle.SPIRAL_FLUTE, chamfer=Chamfer.BOTTOMING, unit_cost=15,
            lead_time_days=14,
        ),
        Station(code="arm-1", name="Tapping arm 1", kind=StationKind.ELECTRIC_ARM, rpm_min=25, rpm_max=500),
        Station(code="air-1", name="Air arm", kind=StationKind.AIR_ARM, rpm_min=350, rpm_max=350),
        Person(code="ada", name="Ada K.", roles=[PersonRole(role=Role.OPERATOR)]),
        Person(code="ben", name="Ben O.", roles=[PersonRole(role=Role.CRIB)]),
    ]  # fmt: skip


def _jobs() -> list[Job]:
    plan: dict[str, Any] = {"holes_per_part": 8, "planned_quantity": 15, "depth_mm": 10, "is_blind": False}
    return [
        Job(
            code="J-1", part="side plate", material_id=1, thread="M8", planned_rpm=300, due_on=date(2026, 3, 9), **plan
        ),
        Job(
            code="J-2", part="pump cover", material_id=2, thread="M6", planned_rpm=180, due_on=date(2026, 3, 5), **plan
        ),
        Job(code="J-3", part="old bracket", material_id=1, thread="M8", is_open=False),
        Job(code="J-4", part="sketch only", material_id=1),
    ]
