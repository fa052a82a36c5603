"""What a database is asked while something is done."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Engine, event


@contextmanager
def statements_to(engine: Engine) -> Iterator[list[str]]:
    """The statements that the database is sent meanwhile."""
    sent: list[str] = []

    def note(_: object, __: object, statement: str, *rest: object) -> None:
        sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(engine, "before_cursor_execute", note)
