"""Whether the log is as it was: its newest entries and changes, found by index however long the log is."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, literal, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopfloor.store import Cancellation, Earlier, Edit, GaugeCheck, Run, SignInAttempt, StockMovement

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

    @classmethod
    def read(cls, text: str) -> LogMark | None:
        """A stored mark; None for that of a generation which is to be made anew."""
        return cls(*map(tuple, json.loads(text))) if text else None


NOTHING = LogMark((None,) * len(_LOGGED), (0,) * len(_LOGGED), (0, 0))
"""The mark of an empty log."""


def log_mark(session: Session, now: datetime | None = None) -> LogMark:
    """The mark of the log as it is now; without a time all entries are counted, for a log that is young.

    What a clock that was ahead recorded for later counts once it is that late; until then it would hide the rest.
    """
    is_past: list[list[ColumnElement[bool]]] = [[] if now is None else [when <= now] for when in _LOGGED]
    times = [
        select(when).where(*past).order_by(when.desc()).limit(1).scalar_subquery()
        for when, past in zip(_LOGGED, is_past, strict=True)
    ]
    keys = [select(func.coalesce(func.max(key), 0)).scalar_subquery() for key in (Edit.id, Earlier.id)]
    *newest, edit, earlier = session.execute(select(*times, *keys)).one()
    lately = [
        literal(0) if at is None else select(func.count(when)).where(*past, *_recent(when, at, now)).scalar_subquery()
        for when, past, at in zip(_LOGGED, is_past, newest, strict=True)
    ]
    told = tuple(None if at is None else at.isoformat() for at in newest)
    return LogMark(told, tuple(session.execute(select(*lately)).one()), (edit, earlier))


def newest_recorded(session: Session, until: datetime) -> datetime | None:
    """When the newest entry before that was recorded, of the log or of attempts to log in; None: there is none."""
    times = [select(when).where(when <= until).order_by(when.desc()).limit(1).scalar_subquery() for when in _LOGGED]
    attempt = select(SignInAttempt.at).where(SignInAttempt.at <= until).order_by(SignInAttempt.id.desc()).limit(1)
    found = session.execute(select(*times, attempt.scalar_subquery())).one()
    return max((at for at in found if at is not None), default=None)


def first_beyond(session: Session, known: LogMark, now: datetime) -> datetime | None:
    """When the oldest entry or change was recorded that is newer than all those of a mark; None if there is none."""
    entries = [
        select(when).where(when <= now, *([] if at is None else [when > datetime.fromisoformat(at)])).order_by(when)
        for when, at in zip(_LOGGED, known.newest, strict=True)
    ]
    edit, earlier = known.changes
    changes = [
        select(Edit.at).where(Edit.id > edit).order_by(Edit.id),
        select(Earlier.at).where(Earlier.id > earlier).order_by(Earlier.id),
    ]
    found = [session.scalar(query.limit(1)) for query in (*entries, *changes)]
    return min((at for at in found if at is not None), default=None)


def _recent(when: InstrumentedAttribute[Any], newest: datetime, now: datetime | None) -> list[ColumnElement[bool]]:
    return [] if now is None else [when > newest - RECENT]
