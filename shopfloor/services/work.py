"""The unit of work: opens a session, commits once at its end, undoes everything on any exception."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime

from sqlalchemy import Engine
from sqlalchemy.exc import OperationalError as Unreachable
from sqlalchemy.orm import Session

from shopfloor.settings import Settings
from shopfloor.store.engine import make_engine

__all__ = ["Unreachable", "Work", "utc_now"]


def utc_now() -> datetime:
    """The server's clock."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Work:
    """The database, the settings and a clock: what every service needs."""

    engine: Engine
    settings: Settings
    clock: Callable[[], datetime] = field(default=utc_now)

    @classmethod
    def on(cls, settings: Settings, clock: Callable[[], datetime] = utc_now) -> Work:
        """Work on the database that the settings name."""
        return cls(make_engine(settings.database), settings, clock)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A session that only reads."""
        with Session(self.engine) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A session whose changes are committed together at the end, or not at all."""
        with Session(self.engine.execution_options(writes=True)) as session, session.begin():
            yield session
