"""A server without a network: what it says to a run that is sent."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import text

from shopfloor.app import create_app
from shopfloor.services.record.work import Work
from shopfloor.settings import Settings


def served(url: str) -> Work:
    """The work of a server that has answered something."""
    path = Path(url.removeprefix("sqlite:///"))
    work = Work.on(Settings(database=url, data_folder=path.parent), for_pages=True)
    with work.write() as session:
        session.execute(text("UPDATE alembic_version SET version_num = version_num"))
    return work


def sent(work: Work, entry: dict[str, object]) -> int:
    """The status of a run that is sent."""
    return create_app(work).test_client().post("/sync/runs", json=entry).status_code
