"""Whether the log is as it was: its newest entries and changes, found by index however long the log is."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any, NamedTuple

from sqlalchemy import func, literal, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopfloor.store import Cancellation, Earlier, Edit, GaugeCheck, Run, StockMovement

RECENT = timedelta(days=1)
"""How far back entries are counted: two that are recorded at once may be committed in either order, and a clock may be
set back. Common practice, no source."""

_LOGGED: tuple[InstrumentedAttribute[Any], ...] = (
    Run.recorded_at, GaugeCheck.recorded_at, StockMovement.recorded_at, Cancellation.cancelled_at,
)  # fmt: skip


class LogMark(NamedTuple):
    """Equal marks, equal logs: when each table's newest entry was recorded, how many were lately, the last changes.

    `changes` are the keys of the newest edit and of the newest earlier value: what lives rest on in the catalogue.
    """

    newest: tuple[str | None, ...]
    lately: tuple[int, ...]
    changes: tuple[int, ...]

    @property
    def text(self) -> str:
        """The mark as it is stored."""
        return json.dumps(self)


def log_mark(session: Session) -> LogMark:
    """The mark of the log as it is now."""
    times = [select(func.max(when)).scalar_subquery() for when in _LOGGED]
    keys = [select(func.coalesce(func.max(key), 0)).scalar_subquery() for key in (Edit.id, Earlier.id)]
    *newest, edit, earlier = session.execute(select(*times, *keys)).one()
    lately = [
        literal(0) if at is None else select(func.count()).where(when > at - RECENT).scalar_subquery()
        for when, at in zip(_LOGGED, newest, strict=True)
    ]
    told = tuple(None if at is None else at.isoformat() for at in newest)
    return LogMark(told, tuple(session.execute(select(*lately)).one()), (edit, earlier))
