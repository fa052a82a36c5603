"""The unit of work: opens a session, commits once at the end, rolls back on any exception.

Concurrent writers: a service locks the tap or tap type (`store.engine.hold`) before it reads, and is retried where
another writer was first (`tried_again`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import wraps
from typing import ParamSpec, TypeVar

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError, IntegrityError, InterfaceError, InternalError, OperationalError
from sqlalchemy.orm import Session

from shopfloor.services.record.signature import sign_what_changes
from shopfloor.settings import Settings
from shopfloor.store.engine import make_engine
from shopfloor.store.schema import must_be_ours

__all__ = ["UNREACHABLE", "Work", "reason_of", "tried_again", "utc_now"]

UNREACHABLE = (OperationalError, InternalError, InterfaceError)
"""What is raised if the database cannot be reached, is full, or is read-only."""

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

_ATTEMPTS = 5


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
    def on(cls, settings: Settings, clock: Callable[[], datetime] = utc_now, *, for_pages: bool = False) -> Work:
        """Work on the database given in the settings; for pages it gives up on one that does not respond."""
        return cls(make_engine(settings.database, for_pages=for_pages), settings, clock)

    def close(self) -> None:
        """Close all connections to the database."""
        self.engine.dispose()

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A session that only reads."""
        with Session(self.engine) as session:
            yield session

    @contextmanager
    def write(self, by: str | None = None) -> Iterator[Session]:
        """A session whose changes are committed together at the end, or not at all.

        Catalogue rows that it adds or changes are signed by the person with the code `by`.

        Raises
        ------
        OutdatedProgram    the database has been upgraded since this program began
        """
        with Session(self.engine.execution_options(writes=True)) as session, session.begin():
            must_be_ours(session.connection())
            sign_what_changes(session, self.clock, by)
            yield session


def reason_of(error: BaseException) -> str:
    """Why a database cannot be used, for the server's log; further lines might quote what somebody entered."""
    if not isinstance(error, DBAPIError) or error.orig is None:
        return type(error).__name__
    lines = str(error.orig).splitlines()
    return f"{type(error.orig).__name__}: {lines[0] if lines else ''}"


def tried_again(transaction: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """Retry the transaction if another one stored the same id or code between its query and its insert.

    On the retry the other row is visible: to compare with, to refuse, or to take the next free code after.
    """

    @wraps(transaction)
    def do(*args: Given.args, **kwargs: Given.kwargs) -> Answer:
        for _ in range(_ATTEMPTS - 1):
            try:
                return transaction(*args, **kwargs)
            except IntegrityError:
                continue
        return transaction(*args, **kwargs)

    return do
